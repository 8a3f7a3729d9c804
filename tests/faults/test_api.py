"""Schemathesis over the description of the running service: no 500, and nothing that is not described.

FAULT_EXAMPLES says how many requests for each operation. Half of them are signed, so that the rest of a hook
is reached and not only its door.
"""

import os
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest
from channel_samples import SETTINGS, channel, signed
from hypothesis import HealthCheck, settings
from requests import PreparedRequest
from requests.auth import AuthBase
from serving import NOWHERE, Serving

from bot.channels.base import Hook, all_channels
from bot.web.openapi import description

schemathesis = pytest.importorskip("schemathesis", reason="pip install -e '.[faults]'")
pytestmark = pytest.mark.faults

EXAMPLES = int(os.environ.get("FAULT_EXAMPLES", "30"))
CHANNELS = {
    name: channel(name, **({"secrets": ()} if name == "json" else {"send_url": NOWHERE})) for name in SETTINGS
}
SCHEMA = schemathesis.openapi.from_dict(description(all_channels(), "1"))
TURN = count()
schemathesis.checks.load_all_checks()
CHECKS = schemathesis.checks.CHECKS.get_by_names(
    [
        "not_a_server_error",
        "status_code_conformance",
        "content_type_conformance",
        "response_headers_conformance",
        "response_schema_conformance",
    ]
)


class Signed(AuthBase):
    """Signs a request as its channel wants it."""

    def __call__(self, request: PreparedRequest) -> PreparedRequest:
        path = str(request.path_url)
        name = path.partition("?")[0].rpartition("/")[2]
        if name not in CHANNELS:
            return request
        body = request.body or b""
        body = body.encode() if isinstance(body, str) else body
        url = f"http://x{path}"
        headers = {key.lower(): value for key, value in request.headers.items()}
        hook = signed(name, Hook(str(request.method), url, headers, body, datetime.now(UTC)))
        request.headers.update(hook.headers)
        return request


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("api")
    serving = Serving(folder / "log.sqlite", channels=CHANNELS)
    yield serving.url
    serving.kill()


@SCHEMA.parametrize()
@settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck))
def test_every_answer_is_one_that_is_described(case: "schemathesis.Case", url: str) -> None:
    known = next(TURN) % 2 == 0
    if known and case.path == "/hook/kannel":
        case.query["key"] = SETTINGS["kannel"]["secrets"][0]
    case.call_and_validate(base_url=url, auth=Signed() if known else None, checks=CHECKS)
