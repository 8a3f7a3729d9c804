"""Coverage-guided fuzzing, by a command: python tests/faults/fuzz.py TARGET -runs=1000000 -timeout=10

TARGET is a channel, "reading" (a text to what it says) or "road" (a text to its whole turn). Needs
`pip install -e '.[fuzz]'`. What follows TARGET goes to libFuzzer, which says how many inputs it tried; an
error, or an input that takes longer than -timeout seconds, ends it and is kept in a file.
"""

import json
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import atheris

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
sys.path[:0] = [str(HERE.parent), str(ROOT)]

with atheris.instrument_imports(include=["bot", "knowledge"]):
    from channel_samples import FOLDER, channel, hook_of, signed, taken

    from bot.books import Books
    from bot.channel import found
    from bot.commands.serve import PEOPLE
    from bot.conversation import converse
    from bot.message import Message
    from bot.people import People
    from bot.reading.read import read
    from bot.scene import Scene

    found()  # it imports the channels

NOW = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
SAM = "+447700900123"


def channel_target(name: str) -> tuple[Callable[[bytes], None], list[bytes]]:
    """Bytes to a hook: flags, then query, headers and body, each on lines of its own."""
    hooks = [hook_of(json.loads(file.read_text())) for file in sorted((FOLDER / name).glob("*.json"))]
    made = channel(name)
    headers = sorted({header for hook in hooks for header in hook.headers})

    def seed(hook_number: int) -> bytes:
        hook = hooks[hook_number]
        given = [hook.headers.get(header, "") for header in headers]
        parts = [hook.url.partition("?")[2], *given]
        return bytes([hook.method == "GET"]) + "\n".join(parts).encode() + b"\n" + hook.body

    def run(data: bytes) -> None:
        flags, *parts = data[:1], *data[1:].split(b"\n", len(headers) + 1)
        query, *given = (part.decode("utf-8", "surrogateescape") for part in parts)
        body = parts[-1] if len(parts) == len(headers) + 2 else b""
        kept = dict(zip(headers, given, strict=False))
        method = "GET" if flags[:1] and flags[0] & 1 else "POST"
        url = hooks[0].url.partition("?")[0] + "?" + query
        hook = replace(hooks[0], method=method, url=url, headers=kept, body=body)
        taken(made, hook)
        taken(made, signed(name, hook))

    return run, [seed(n) for n in range(len(hooks))]


def reading_target() -> tuple[Callable[[bytes], None], list[bytes]]:
    """Bytes to a text, read with and without a question before it."""
    words = BOOKS.words

    def run(data: bytes) -> None:
        text = data.decode("utf-8", "replace")
        for asked in ((), ("depth_m", "soil"), ("gauges",)):
            json.dumps(read(text, words, asked, "T1 depth 1.6 or 2.6").reading.public()).encode()

    return run, texts()


def road_target() -> tuple[Callable[[bytes], None], list[bytes]]:
    """Bytes to a text, answered: an error of ours is an error found."""
    people = People.load(PEOPLE)
    person = people.find(SAM)
    assert person
    site = people.site(person.site)
    scene = Scene(
        now=NOW, person=person, site=site, thread=None, trenches={}, people=people, next_ref="T1", code="1234"
    )  # fmt: skip

    def run(data: bytes) -> None:
        text = data.decode("utf-8", "replace")
        message = Message(id="1", channel="json", sender=SAM, text=text, sent_at=NOW, received_at=NOW)
        turn = converse(message, scene, BOOKS.tables, BOOKS.words, BOOKS.sayings)
        json.dumps(turn.outcome.public()).encode()
        turn.reply.text.encode()

    return run, texts()


def texts() -> list[bytes]:
    """Texts as crews send them: the lines of the demo chats."""
    chats = sorted((ROOT / "demo_chats").glob("*.chat"))
    return [line.encode() for chat in chats for line in chat.read_text(encoding="utf-8").splitlines() if line]


def main() -> None:
    """Fuzz until libFuzzer has had enough."""
    name = sys.argv.pop(1)
    made = {"reading": reading_target, "road": road_target}.get(name)
    run, seeds = made() if made else channel_target(name)
    with tempfile.TemporaryDirectory() as folder:
        for number, seed in enumerate(seeds):
            (Path(folder) / str(number)).write_bytes(seed)
        atheris.Setup([*sys.argv, folder], run)
        atheris.Fuzz()


BOOKS = Books.load()

if __name__ == "__main__":
    main()
