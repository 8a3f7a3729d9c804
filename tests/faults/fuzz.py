"""Coverage-guided fuzzing, by a command: python tests/faults/fuzz.py TARGET -runs=1000000 -timeout=10

TARGET is "reading" (a text to what it says, in less than 20 ms), "talk" (texts of two people to whole turns
and the records that come of them), a channel such as "kannel" (a hook to what it brought) or "road-kannel"
(a hook to its answer and the texts to send). Needs `pip install -e '.[fuzz]'`. What follows TARGET goes to
libFuzzer, which says how many inputs it tried; an error, or an input that takes longer than -timeout seconds,
ends it and is kept in a file.
"""

import json
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import atheris

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
sys.path[:0] = [str(HERE.parent / "support"), str(ROOT)]

import bot.config.basis  # noqa: E402

PLAIN = bot.config.basis.Basis.load().readers
"""The readers without the fuzzer's probes in them, which slow them down: these are held against the clock."""
for module in [name for name in sys.modules if name.partition(".")[0] in ("bot", "knowledge")]:
    del sys.modules[module]

with atheris.instrument_imports(include=["bot", "knowledge"]):
    from channel_samples import FOLDER, channel, hook_of, signed, taken

    from bot.channels.base import Hook, all_channels
    from bot.config.basis import Basis
    from bot.config.people import People
    from bot.demo.seed import PEOPLE
    from bot.dialogue.context import Context
    from bot.dialogue.conversation import converse
    from bot.message import Message, Person, Reply, Thread, Turn
    from bot.storage.records import _EVENTS
    from knowledge.record.trench import Trench, rebuild

    all_channels()  # it imports the channels

NOW = datetime(2026, 11, 25, 8, 10, tzinfo=UTC)
SITE = "Larch Street"
SLOWEST_S = 0.020  # of the reading of one text
MOST_TEXTS = 8  # of one talk
BASIS = Basis.load()
CASES = [
    case["text"]
    for file in sorted((ROOT / "tests/cases/reading").glob("*.toml"))
    for case in tomllib.loads(file.read_text(encoding="utf-8"))["case"]
]
STORIES = [chat.read_text(encoding="utf-8") for chat in sorted((ROOT / "demo_chats").glob("*.chat"))]
SAID = sorted(
    {word for language in BASIS.words.languages.values() for word in language.words}
    | {word for text in [*CASES, *STORIES] for word in text.split()}
    | {"\n", ",", "?", "1234"}
)
"""What a talk is made of: every word of the vocabularies, and every sign and figure of the cases."""
PLACES = {word: place for place, word in enumerate(SAID)}

Run = Callable[[bytes], None]


def text_from(data: bytes) -> str:
    """The bytes as they stand, or after an odd first byte words of the trade, two bytes each."""
    if not data or data[0] % 2 == 0:
        return data[1:].decode("utf-8", "replace")
    places = (int.from_bytes(data[at : at + 2]) for at in range(1, len(data) - 1, 2))
    return " ".join(SAID[place % len(SAID)] for place in places)


def bytes_of(text: str) -> bytes:
    """The words of a text as bytes, the way that `text_from` takes them."""
    words = text.replace("\n", " \n ").split(" ")
    return b"\1" + b"".join(PLACES[word].to_bytes(2) for word in words if word in PLACES)


def seeds_of(texts: Sequence[str]) -> list[bytes]:
    """Each text as it stands, and as words."""
    return [seed for text in texts for seed in (b"\0" + text.encode(), bytes_of(text))]


def reading_target() -> tuple[Run, list[bytes]]:
    """Bytes to a text, read with and without a question before it."""

    def run(data: bytes) -> None:
        text = text_from(data)
        for asked in ((), ("depth_m", "soil"), ("gauges",)):
            began = time.thread_time()
            heard = BASIS.readers.read(text, asked, "T1 depth 1.6 or 2.6")
            if time.thread_time() - began > SLOWEST_S:
                hold_to_time(text, asked)
            json.dumps(heard.reading.public()).encode()

    return run, seeds_of(CASES)


def hold_to_time(text: str, asked: tuple[str, ...]) -> None:
    """Read it again, the best of five without probes: too slow is an error."""
    took = []
    for _ in range(5):
        began = time.thread_time()
        PLAIN.read(text, asked, "T1 depth 1.6 or 2.6")
        took.append(time.thread_time() - began)
    assert min(took) <= SLOWEST_S, f"{min(took) * 1000:.1f} ms for {text!r}"


class Anybody(People):
    """Whoever texts is of the crew: an even number is a fitter's, an odd one a supervisor's."""

    def find(self, number: str) -> Person | None:
        return Person(number, "Sam", "supervisor" if number[-1] in "13579" else "fitter", SITE)


class Talk:
    """What the service keeps between two texts, without a disk."""

    def __init__(self) -> None:
        self.people = Anybody.load(PEOPLE)
        self.threads: dict[str, Thread] = {}
        self.trenches: dict[str, Trench] = {}

    def turn(self, message: Message, now: datetime) -> Turn:
        """The turn of one text; what it keeps can be kept, what it says can be said."""
        context = Context(
            now=now,
            person=self.people.find(message.sender),
            site=self.people.site(SITE),
            thread=self.threads.get(message.sender),
            trenches={ref: trench for ref, trench in self.trenches.items() if not trench.closed},
            people=self.people,
            next_ref=f"T{len(self.trenches) + 1}",
            code="1234",
        )
        turn = converse(message, context, BASIS.tables, BASIS.readers, BASIS.catalogs)
        assert turn.reply.text.strip()
        for text in (turn.reply.text, *(alert.text for alert in turn.alerts)):
            text.encode()
        json.dumps([turn.outcome.public(), turn.reading.public()]).encode()
        turn.manner.model_dump_json()
        if turn.thread:
            self.threads[message.sender] = Thread.model_validate_json(turn.thread.model_dump_json())
        for trench in turn.trenches:
            self.trenches[trench.ref] = again(trench)
        return turn


def again(trench: Trench) -> Trench:
    """A record as it comes back from the disk: it must be the same."""
    events = _EVENTS.validate_json(_EVENTS.dump_json(trench.events, exclude_defaults=True))
    same = rebuild(trench.ref, trench.site, trench.rulebook, trench.kit, events, BASIS.tables)
    assert same.now.hazards == trench.now.hazards and same.closed == trench.closed
    return same


def talk_target() -> tuple[Run, list[bytes]]:
    """Bytes to a few texts, one a line, of a fitter and a supervisor in turn."""

    def run(data: bytes) -> None:
        talk = Talk()
        texts = text_from(data).split("\n")[:MOST_TEXTS]
        for number, text in enumerate(texts):
            now = NOW + timedelta(minutes=number)
            sender = f"+44770090012{number % 2}"
            message = Message(
                id=str(number), channel="json", sender=sender, text=text, sent_at=now, received_at=now
            )
            talk.turn(message, now)

    return run, seeds_of([*CASES[::10], *STORIES])


def channel_target(name: str) -> tuple[Run, list[bytes]]:
    """Bytes to a hook, as it came and signed, to what it brought."""
    shape, made = HookShape.of(name), channel(name)

    def run(data: bytes) -> None:
        hook = shape.hook(data)
        taken(made, hook)
        taken(made, signed(name, hook))

    return run, list(shape.seeds())


@dataclass(frozen=True)
class Put:
    """A turn as its channel sees it once it is on the disk."""

    exchange: int
    reply: str
    reading: str
    outcome: str


def road_target(name: str) -> tuple[Run, list[bytes]]:
    """Bytes to a signed hook, to the turns of its texts, to its answer and the texts to send."""
    shape, made = HookShape.of(name), channel(name)

    def run(data: bytes) -> None:
        read = taken(made, signed(name, shape.hook(data)))
        if read is None or read.answer:
            return
        talk, put = Talk(), []
        for message in read.messages[:MOST_TEXTS]:
            turn = talk.turn(message, NOW)
            outcome, reading = json.dumps(turn.outcome.public()), json.dumps(turn.reading.public())
            put.append(Put(len(put) + 1, turn.reply.text, reading, outcome))
            for part in made.parts(turn.reply.text):
                made.request(Reply(to=message.sender, text=part), "1-1", NOW)
            made.busy(message, "No answer.")
        if put:
            assert made.answer(put).status == 200

    return run, list(shape.seeds())


@dataclass(frozen=True)
class HookShape:
    """How bytes become a hook: flags, then query, headers and body, each on a line of its own."""

    hooks: Sequence[Hook]
    headers: Sequence[str]

    @classmethod
    def of(cls, name: str) -> "HookShape":
        """The shape of the recorded hooks."""
        hooks = [hook_of(json.loads(file.read_text())) for file in sorted((FOLDER / name).glob("*.json"))]
        return cls(hooks, sorted({header for hook in hooks for header in hook.headers}))

    def seeds(self) -> Iterator[bytes]:
        """Each recorded hook as bytes."""
        for hook in self.hooks:
            parts = [hook.url.partition("?")[2], *(hook.headers.get(header, "") for header in self.headers)]
            yield bytes([hook.method == "GET"]) + "\n".join(parts).encode() + b"\n" + hook.body

    def hook(self, data: bytes) -> Hook:
        """The hook that stands in these bytes."""
        flags, *parts = data[:1], *data[1:].split(b"\n", len(self.headers) + 1)
        query, *given = (part.decode("utf-8", "surrogateescape") for part in parts)
        return replace(
            self.hooks[0],
            method="GET" if flags and flags[0] & 1 else "POST",
            url=self.hooks[0].url.partition("?")[0] + "?" + query,
            headers=dict(zip(self.headers, given, strict=False)),
            body=parts[-1] if len(parts) == len(self.headers) + 2 else b"",
        )


def main() -> None:
    """Fuzz until libFuzzer has had enough."""
    name = sys.argv.pop(1)
    if name in ("reading", "talk"):
        run, seeds = reading_target() if name == "reading" else talk_target()
    elif name.startswith("road-"):
        run, seeds = road_target(name.removeprefix("road-"))
    else:
        run, seeds = channel_target(name)
    with tempfile.TemporaryDirectory() as folder:
        for number, seed in enumerate(seeds):
            (Path(folder) / str(number)).write_bytes(seed)
        atheris.Setup([*sys.argv, folder], run)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
