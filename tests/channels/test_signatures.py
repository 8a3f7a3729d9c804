"""Who is let in: each channel's check against the providers' own public SDKs, good and tampered with.

Peers: standardwebhooks, twilio, pywa (the WhatsApp Cloud API has no SDK of its own) and python-telegram-bot.
"""

import base64
import hmac
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qsl, urlencode

import pytest
import telegram
from channel_samples import APP_SECRET, FORM_SECRET, JSON_SECRET, SETTINGS, channel, sample, with_headers
from multidict import MultiDict
from pydantic import ValidationError
from pywa.utils import webhook_updates_validator
from standardwebhooks import Webhook
from twilio.request_validator import RequestValidator

from bot.channels.base import BadHook, Hook, HookContent, all_channels
from bot.message import Reply

OTHER_SECRET = "whsec_" + base64.b64encode(b"another secret of the tests, sir").decode()
SIGNED = {
    "json": "webhook_signature",
    "formhook": "x_twilio_signature",
    "telegram": "x_telegram_bot_api_secret_token",
    "whatsapp": "x_hub_signature_256",
}


def _refused(name: str, hook: Hook, **changes: object) -> int:
    with pytest.raises(BadHook) as caught:
        channel(name, **changes).read(hook)
    assert not any(secret in caught.value.why for secret in SETTINGS[name]["secrets"])
    return caught.value.status


def _signed(body: str, at: datetime, *secrets: str, id_: str = "msg_1") -> Hook:
    signatures = [Webhook(secret).sign(id_, at, body) for secret in secrets]
    headers = {
        "webhook-id": id_,
        "webhook-timestamp": str(int(at.timestamp())),
        "webhook-signature": " ".join(signatures),
    }
    return replace(sample("json", "text"), body=body.encode(), headers=headers)


BODY = '{"id":"m-1","from":"+447700900123","text":"crack ½"}'
NOW = datetime(2026, 11, 25, 8, 10, 5, tzinfo=UTC)


def _read(name: str, hook: Hook, **changes: object) -> HookContent:
    return channel(name, **changes).read(hook)


def test_json_takes_what_the_sdk_signs() -> None:
    assert _read("json", _signed(BODY, NOW, JSON_SECRET)).messages[0].text == "crack ½"


def test_json_takes_any_of_several_signatures_and_secrets() -> None:
    """Standard Webhooks 1.0: while secrets are being changed both sign, in one list."""
    both = _signed(BODY, NOW, OTHER_SECRET, JSON_SECRET)
    assert _read("json", both).messages
    assert _read("json", _signed(BODY, NOW, OTHER_SECRET), secrets=(JSON_SECRET, OTHER_SECRET)).messages
    assert _read("json", _signed(BODY, NOW, JSON_SECRET), secrets=f"{OTHER_SECRET} {JSON_SECRET}").messages
    unknown = "v1a,AAAA v2,zzz " + both.headers["webhook-signature"]
    assert _read("json", with_headers(both, webhook_signature=unknown)).messages


@pytest.mark.parametrize(("seconds", "let_in"), [(-301, False), (-299, True), (299, True), (301, False)])
def test_json_keeps_to_five_minutes(seconds: int, let_in: bool) -> None:
    """Five minutes either way is what the public SDKs allow; the hook is signed right in each case."""
    hook = _signed(BODY, NOW + timedelta(seconds=seconds), JSON_SECRET)
    if let_in:
        assert _read("json", hook).messages
    else:
        assert _refused("json", hook) == 401


@pytest.mark.parametrize(
    "headers",
    [
        {"webhook_id": "msg_2"},
        {"webhook_timestamp": "1795594206"},
        {"webhook_timestamp": "1795594205.0"},
        {"webhook_timestamp": "soon"},
        {"webhook_timestamp": "-1"},
        {"webhook_timestamp": "٣"},
        {"webhook_timestamp": "9" * 400},
        {"webhook_signature": ""},
        {"webhook_signature": "v1"},  # without a comma the SDK raises ValueError
        {"webhook_signature": "v1,"},
        {"webhook_signature": "v1,é"},
        {"webhook_signature": "v1,\udcff"},
        {"webhook_id": ""},
    ],
)
def test_json_refuses_changed_headers(headers: dict[str, str]) -> None:
    assert _refused("json", with_headers(_signed(BODY, NOW, JSON_SECRET), **headers)) == 401


def test_json_refuses_a_changed_body_and_a_foreign_secret() -> None:
    hook = _signed(BODY, NOW, JSON_SECRET)
    assert _refused("json", replace(hook, body=hook.body + b" ")) == 401
    assert _refused("json", replace(hook, body=b"\xff")) == 401  # the SDK raises UnicodeDecodeError
    assert _refused("json", _signed(BODY, NOW, OTHER_SECRET)) == 401
    assert _refused("json", replace(hook, headers={})) == 401


def test_json_secret_must_be_one() -> None:
    with pytest.raises(ValidationError, match="whsec_"):
        channel("json", secrets=("not base64!",))


def test_form_takes_what_the_sdk_signs_and_nothing_else() -> None:
    hook = sample("formhook", "text")
    url, signature = hook.url, hook.headers["x-twilio-signature"]
    form = dict(parse_qsl(hook.body.decode(), keep_blank_values=True))
    assert RequestValidator(FORM_SECRET).validate(url, form, signature)
    assert _read("formhook", hook).messages
    for change in ({"Body": "depth 0.6"}, {"From": "+447700900124"}, {"Extra": ""}):
        changed = form | change
        assert not RequestValidator(FORM_SECRET).validate(url, changed, signature)
        assert _refused("formhook", replace(hook, body=urlencode(changed).encode())) == 401
    assert _refused("formhook", hook, hook_url="https://elsewhere.example/hook/formhook") == 401
    assert _refused("formhook", with_headers(hook, x_twilio_signature="é")) == 401


def test_form_signature_covers_the_public_url() -> None:
    """Behind a proxy the service sees another url than was signed: `hook_url` says which."""
    body = urlencode([("MessageSid", SID), ("From", "+447700900123"), ("Body", "b")])
    public = "https://trench.example/hook/formhook?site=north%20end"
    form: MultiDict[str] = MultiDict(parse_qsl(body))
    hook = replace(
        sample("formhook", "text"),
        url="http://127.0.0.1:8080/hook/formhook?site=north%20end",
        body=body.encode(),
        headers={"x-twilio-signature": RequestValidator(FORM_SECRET).compute_signature(public, form)},
    )
    assert _read("formhook", hook).messages[0].text == "b"


SID = "SM" + "0" * 31 + "1"
TEXT = {"MessageSid": SID, "To": "+447700900999", "ApiVersion": "2010-04-01"}
ATTACKER, VICTIM = "+447700900666", "+447700900124"
RESPLIT: dict[str, tuple[dict[str, str], list[tuple[str, str]]]] = {
    "another sender, the rest in a city": (
        {**TEXT, "From": ATTACKER, "Body": f"T7 inspected okFrom{VICTIM}FromCityx"},
        [("Body", "T7 inspected ok"), ("From", VICTIM), ("FromCity", f"xFrom{ATTACKER}")],
    ),
    "another sender, the rest in a field that nobody knows": (
        {**TEXT, "From": ATTACKER, "Body": f"T7 inspected okFrom{VICTIM}GoesOnx"},
        [("Body", "T7 inspected ok"), ("From", VICTIM), ("GoesOn", f"xFrom{ATTACKER}")],
    ),
    "another sender, the rest in a second From": (
        {**TEXT, "From": ATTACKER, "Body": f"T7 inspected okFrom{VICTIM}"},
        [("Body", "T7 inspected ok"), ("From", ATTACKER), ("From", VICTIM)],
    ),
    "another sender, the rest in the place of a picture": (
        {**TEXT, "From": ATTACKER, "Body": f"okFrom{VICTIM}MediaUrl0https://a.example/"},
        [("Body", "ok"), ("From", VICTIM), ("MediaUrl0", f"https://a.example/From{ATTACKER}")],
    ),
    "another text": (
        {**TEXT, "From": ATTACKER, "Body": "T7 side slipped"},
        [("Body", "T7"), ("Body ", "side slipped"), ("From", ATTACKER)],
    ),
    "another id": (
        {**TEXT, "From": ATTACKER, "Body": "ok"},
        [("Body", "ok"), ("From", ATTACKER), ("MessageSid", SID[:-1]), ("MessageSidx", "")],
    ),
}


@pytest.mark.parametrize(("sent", "split"), RESPLIT.values(), ids=RESPLIT)
def test_a_form_that_is_signed_is_one_text_only(sent: dict[str, str], split: list[tuple[str, str]]) -> None:
    """The fields are signed with nothing between them: the same signature must not fit another text."""
    kept = [(name, value) for name, value in TEXT.items() if name not in dict(split)]
    hook = sample("formhook", "text")
    signature = RequestValidator(FORM_SECRET).compute_signature(hook.url, sent)
    taken = replace(hook, body=urlencode(sent).encode())
    assert _read("formhook", with_headers(taken, x_twilio_signature=signature)).messages
    forged = replace(hook, body=urlencode([*split, *kept]).encode())
    assert _refused("formhook", with_headers(forged, x_twilio_signature=signature)) in (400, 401)


def test_a_field_that_the_provider_has_begun_to_send_can_be_let_in() -> None:
    form = {**TEXT, "From": ATTACKER, "Body": "ok", "NewField": "x"}
    signature = RequestValidator(FORM_SECRET).compute_signature(sample("formhook", "text").url, form)
    hook = replace(sample("formhook", "text"), body=urlencode(form).encode())
    hook = with_headers(hook, x_twilio_signature=signature)
    assert _refused("formhook", hook) == 400
    assert _read("formhook", hook, more_fields="NewField Another").messages


def test_form_signature_by_shared_key() -> None:
    """The SDK's second algorithm, named in a header of its own."""
    hook = sample("formhook", "text")
    form = dict(parse_qsl(hook.body.decode(), keep_blank_values=True))
    signature = RequestValidator(FORM_SECRET).compute_signature(hook.url, form, "HMAC_SHA256")
    headers = {
        "x_twilio_signature": signature,
        "x_twilio_webhooks_signature_settings": "key=k1,algorithm=HMAC_SHA256",
    }
    assert _read("formhook", with_headers(hook, **headers)).messages


def test_whatsapp_takes_what_another_library_takes() -> None:
    hook = sample("whatsapp", "batch")
    signature = hook.headers["x-hub-signature-256"]
    assert webhook_updates_validator(APP_SECRET, hook.body, signature)
    assert _read("whatsapp", hook).messages
    changed = replace(hook, body=hook.body.replace(b"depth 1.6", b"depth 0.6"))
    assert changed.body != hook.body
    assert not webhook_updates_validator(APP_SECRET, changed.body, signature)
    assert _refused("whatsapp", changed) == 401


@pytest.mark.parametrize(
    "query",
    [
        "",
        "hub.mode=subscribe&hub.challenge=1&hub.verify_token=wrong",
        "hub.mode=unsubscribe&hub.challenge=1&hub.verify_token=verify_of_the_tests",
        "hub.mode=subscribe&hub.challenge=%3Cscript%3E&hub.verify_token=verify_of_the_tests",
    ],
)
def test_whatsapp_greets_only_who_knows_the_token(query: str) -> None:
    greeting = sample("whatsapp", "greeting")
    assert _refused("whatsapp", replace(greeting, url=greeting.url.partition("?")[0] + "?" + query)) == 403


@pytest.mark.parametrize("which", ["text", "edited", "picture", "group"])
def test_telegram_updates_read_as_the_library_reads_them(which: str) -> None:
    hook = sample("telegram", which)
    update = telegram.Update.de_json(json.loads(hook.body), None)
    said = update.effective_message
    assert said is not None
    taken = _read("telegram", hook)
    if said.chat.type != telegram.constants.ChatType.PRIVATE:
        assert taken == HookContent()
        return
    (message,) = taken.messages
    assert message.text == (said.text or said.caption)
    assert (message.id, message.sender) == (str(update.update_id), f"telegram:{said.chat.id}")
    assert message.sent_at == (said.edit_date or said.date)


@pytest.mark.parametrize(("name", "header"), SIGNED.items())
def test_without_the_right_header_nobody_gets_in(name: str, header: str) -> None:
    hook = sample(name, "batch" if name == "whatsapp" else "text")
    assert _read(name, hook).messages
    right = hook.headers[header.replace("_", "-")]
    for wrong in ("", right[:-1], right + "x", right.swapcase(), "é" * 40):
        assert _refused(name, with_headers(hook, **{header: wrong})) == 401


def test_kannel_asks_for_the_key() -> None:
    hook = sample("kannel", "get")
    for wrong in ("key=", "key=not-a-real-ke", "key=%FF", "kex=not-a-real-key"):
        assert _refused("kannel", replace(hook, url=hook.url.replace("key=not-a-real-key", wrong))) == 401


def test_a_new_secret_can_stand_beside_the_old_one() -> None:
    for name in ("kannel", "telegram"):
        old = SETTINGS[name]["secrets"][0]
        which = "get" if name == "kannel" else "text"
        assert _read(name, sample(name, which), secrets=f"a-new-one {old}").messages
        assert _read(name, sample(name, which), secrets=f"{old} a-new-one").messages


@pytest.mark.parametrize("name", ["kannel", "formhook", "telegram", "whatsapp"])
def test_no_channel_but_json_opens_without_a_secret(name: str) -> None:
    for none in ((), "", " "):
        with pytest.raises(ValidationError, match="secrets"):
            all_channels()[name](**SETTINGS[name] | {"secrets": none})


def test_secrets_are_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every comparison with a secret goes through hmac.compare_digest: without it nobody gets in."""
    monkeypatch.setattr(hmac, "compare_digest", lambda one, other: False)
    for name, which in [("json", "text"), ("kannel", "get"), ("formhook", "text"), ("telegram", "text")]:
        assert _refused(name, sample(name, which)) == 401
    assert _refused("whatsapp", sample("whatsapp", "batch")) == 401
    assert _refused("whatsapp", sample("whatsapp", "greeting")) == 403


@pytest.mark.parametrize("secret", [JSON_SECRET, OTHER_SECRET])
def test_what_json_sends_is_taken_by_the_public_library(secret: str) -> None:
    """standardwebhooks from PyPI, by the new secret as by the old one."""
    made = channel("json", secrets=(JSON_SECRET, OTHER_SECRET), send_url="https://texts.example/out")
    reply = Reply(to="+447700900123", text="NOBODY IN. Ø 1½ m")
    for key in ("17-1", "watch/Żelazna\n/T1/0a-1"):
        request = made.request(reply, key, datetime.now(UTC))
        assert request is not None
        given = Webhook(secret).verify(request.body, dict(request.headers))
        assert (given["to"], given["text"]) == (reply.to, reply.text)
        assert given["id"] == request.headers["webhook-id"]


def test_json_sends_the_same_id_at_every_try() -> None:
    made, now = channel("json", send_url="https://texts.example/out"), datetime.now(UTC)
    tries = [
        made.request(Reply(to="+447700900123", text="Out."), "17-1", at)
        for at in (now, now + timedelta(hours=1))
    ]
    first, later = (each.headers for each in tries if each)
    assert first["webhook-id"] == later["webhook-id"]
    assert first["webhook-timestamp"] != later["webhook-timestamp"]
