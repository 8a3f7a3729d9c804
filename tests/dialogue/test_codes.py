"""The code that proves who opens what: guessed by nobody, and wanted wherever a number can be forged."""

import itertools
import re
from collections.abc import Iterator

import pytest
from complete_day import PEOPLE
from talk import Talk

from bot.channels.base import Channel, all_channels
from bot.channels.json import Json
from bot.channels.kannel import Kannel
from bot.config.basis import Basis
from bot.service import short_code

NOBODY = "http://127.0.0.1:1"
CHANNELS: dict[str, Channel] = {
    "kannel": Kannel(secrets="key", send_url=NOBODY),  # type: ignore[arg-type]
    "json": Json(),
}
GUESSES = [f"{n:06}" for n in range(500_000, 500_100)]


@pytest.fixture
def sms(basis: Basis) -> Iterator[Talk]:
    """A day by SMS, whose senders anybody can write."""
    talk = Talk(basis, CHANNELS, "kannel").day()
    yield talk
    talk.close()


def code(talk: Talk) -> str:
    """The last code that went to the supervisor's number."""
    sent = [text for to, why, text in talk.outbox() if why == "code" and to == PEOPLE["S"][0]]
    found = re.search(r"code (\d+)", sent[-1])
    assert found
    return found[1]


def leave(talk: Talk) -> str | None:
    row = talk.say("S", "may they go in T7?").outcome
    return row.get("allowed_by")


def test_a_code_has_six_digits() -> None:
    assert all(re.fullmatch(r"\d{6}", short_code()) for _ in range(100))


def test_the_right_code_lets_people_in(sms: Talk) -> None:
    sms.say("S", "allow T7")
    sms.say("S", f"T7 code {code(sms)}")
    assert leave(sms) == "Sol"


def test_three_wrong_codes_lock_and_asking_again_gives_no_more_tries(basis: Basis) -> None:
    codes = itertools.cycle(GUESSES)
    sms = Talk(basis, CHANNELS, "kannel", new_code=lambda: next(codes)).day()
    tried = 0
    for guess in range(40):  # a forger, who sees no code: each time one new code, one try
        sms.say("S", "allow T7", minutes=0.1)
        said = sms.say("S", f"T7 code {900_000 + guess}", minutes=0.1)
        tried += "Wrong or expired code" in said.reply
    assert tried == 3
    right = code(sms)
    sms.say("S", f"T7 code {right}")
    assert leave(sms) is None
    told = [to for to, why, _ in sms.outbox() if why == "codes"]
    assert set(told) == {PEOPLE["O"][0], PEOPLE["S"][0]} and len(told) == 2
    sms.say("S", "allow T7", minutes=40)
    sms.say("S", f"T7 code {code(sms)}")
    assert leave(sms) == "Sol"
    sms.close()


def test_a_right_code_forgets_the_wrong_ones(sms: Talk) -> None:
    for _ in range(3):
        sms.say("S", "allow T7")
        sms.say("S", "T7 code 1")
        sms.say("S", "allow T7")
        sms.say("S", f"T7 code {code(sms)}")
        assert leave(sms) == "Sol"
        sms.say("F", "T7 dug to 1.59")
        sms.say("F", "T7 dug to 1.6")
        sms.say("S", "T7 inspected ok")


CLOSED = {
    "a hazard": ("F", "T7 side slipped", ("T7 inspected ok",)),
    "maybe danger": ("F", "T7 ground groaning oddly by the wall", ("T7 inspected ok", "T7 all safe")),
    "a stop": ("S", "stop work T7", ("T7 inspected ok",)),
    "a text nobody understood": ("F", "T7 the blue one wobbled off to tea", ("T7 SEEN",)),
}


@pytest.mark.parametrize(("who", "closing", "openings"), CLOSED.values(), ids=CLOSED)
def test_what_opens_by_sms_waits_for_the_code(
    basis: Basis, who: str, closing: str, openings: tuple[str, ...]
) -> None:
    for opening in openings:
        sms = Talk(basis, CHANNELS, "kannel").day()
        sms.say(who, closing)
        assert sms.entry() == "no"
        if opening.endswith("SEEN"):
            sms.say("S", "T7 inspected ok")  # shows the words
        said = sms.say("S", opening)
        assert "A code went to" in said.reply, said.reply
        sms.say("R", "T7 all units set all at 40 bar")
        sms.say("R", "T7 air test ok")
        assert sms.entry() == "no"
        before = [row for row in sms.outbox() if row[1] == "code"]
        sms.say("S", f"T7 code {code(sms)}")
        held = sms.store.db.execute("SELECT events FROM trenches WHERE ref = 'T7'").fetchone()[0]
        assert opening in held and len(before) == len([row for row in sms.outbox() if row[1] == "code"])
        sms.close()


def test_a_forger_with_the_supervisors_number_opens_nothing(sms: Talk) -> None:
    sms.say("F", "T7 side slipped")
    for text in ("T7 inspected ok", "T7 code 123456", "T7 all safe", "T7 seen"):
        sms.say("S", text)
    assert sms.entry() == "no"


def test_danger_that_comes_before_the_code_is_not_cleared_by_what_was_seen_before_it(sms: Talk) -> None:
    sms.say("F", "T7 unit 1 leaking")
    sms.say("S", "T7 inspected ok")
    right = code(sms)
    sms.say("F", "T7 side slipped")
    sms.say("S", f"T7 code {right}")
    assert sms.entry() == "no"
    assert "side" in (reply := sms.say("S", "may they go in T7?").reply.lower()) or "movement" in reply


def test_an_inspection_of_a_trench_that_nothing_closes_needs_no_code(sms: Talk) -> None:
    assert "code" not in sms.say("S", "T7 inspected ok").reply
    assert sms.entry() == "may"


def test_where_the_channel_proves_the_sender_no_code_is_wanted(basis: Basis) -> None:
    talk = Talk(basis, CHANNELS, "json").day()
    talk.say("F", "T7 side slipped")
    for text in ("T7 all units set all at 40 bar", "T7 air test ok"):
        talk.say("F", text)
    assert "code" not in talk.say("S", "T7 inspected ok").reply
    assert talk.entry() == "may"
    talk.close()


def test_what_a_supervisors_number_did_is_told_to_that_number(basis: Basis) -> None:
    """By JSON the caller has the answer, whoever that is: the number on file hears of it."""
    talk = Talk(basis, CHANNELS, "json").day()
    told = [text for to, why, text in talk.outbox() if why == "done" and to == PEOPLE["S"][0]]
    assert len(told) == 1 and "T7 inspected ok" in told[0]
    talk.say("F", "T7 inspected ok")
    talk.say("S", "status")
    talk.say("S", "allow T7")
    talk.say("S", f"T7 code {code(talk)}")
    told = [text for _, why, text in talk.outbox() if why == "done"]
    assert len(told) == 2 and "code" in told[1]
    talk.close()
    alone = Talk(basis, {"json": Json()}, "json").day()  # no channel could carry it
    assert alone.outbox() == []
    alone.close()


def test_every_channel_says_whether_it_proves_its_senders() -> None:
    proves = {name: kind.model_fields["proves_sender"].default for name, kind in all_channels().items()}
    assert {name for name, yes in proves.items() if not yes} == {"kannel", "formhook"}


def test_an_inspection_that_was_of_another_trench_clears_no_danger_by_sms(sms: Talk) -> None:
    """Of a trench that nothing closes it needs no code: it must not get to one that is closed by "not T8"."""
    sms.say("F", "T8 depth 1.1 width 0.7 length 4 firm clay dry")
    sms.say("F", "T7 side slipped")
    sms.say("S", "T8 inspected ok")
    said = sms.say("S", "that was T7 not T8")
    assert sms.entry() == "no" and "T7" in said.reply
    missing = sms.say("S", "may they go in T7?").outcome["missing"]
    assert "open hazard" in [one["fact"] for one in missing]


@pytest.mark.parametrize("opening", ["MERGE T8 T7", "T7 1 unit cleared"])
def test_what_else_a_supervisor_opens_by_sms_waits_for_the_code(sms: Talk, opening: str) -> None:
    sms.say("F", "T8 depth 1.1 width 0.7 length 4 firm clay dry")
    sms.say("F", "T7 1 tagged out, bent")
    before = [sms.service._records.find("bar", ref) for ref in ("T7", "T8")]
    assert "NOT counted yet" in sms.say("S", opening).reply
    assert [sms.service._records.find("bar", ref) for ref in ("T7", "T8")] == before
    sms.say("S", f"code {code(sms)}")
    assert [sms.service._records.find("bar", ref) for ref in ("T7", "T8")] != before


def test_nobody_joins_by_a_yes_that_anybody_may_have_sent(sms: Talk) -> None:
    sms.say("X", "join bar Dave")
    sms.say("S", "yes dave")
    assert sms.say("X", "status").outcome["why"] == "not on the crew list"
    sms.say("S", f"code {code(sms)}")
    assert sms.say("X", "status").outcome["kind"] == "told"
