"""Case tables of what messages mean, worked by hand from the reading contract: loaded and compared."""

import tomllib
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict

from knowledge.reading import Reading

FOLDER = Path(__file__).parents[1] / "cases" / "reading"
LEAST = {  # tables and the fewest cases each may hold
    "sizing": 130,
    "sized": 490,
    "ask": 90,
    "hazards": 80,
    "not": 70,
    "entry": 40,
    "report": 90,
    "follow": 40,
    "answers": 25,
    "site": 1800,
    "beside": 65,
}
BAR_TOLERANCE = 0.05


class Case(BaseModel):
    """One message and the reading it must give.

    `asked` and `earlier` are set where the message answers a question: the fields that were asked
    about, and the text that led to the question. `free` names fields that are not compared.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    text: str
    expect: Reading
    asked: tuple[str, ...] = ()
    earlier: str = ""
    free: tuple[str, ...] = ()
    why: str = ""


def cases(table: str) -> list[Case]:
    """The cases of one table. Raises if the file is missing or a case is not of the contract's shape."""
    data = tomllib.loads((FOLDER / f"{table}.toml").read_text(encoding="utf-8"))
    return [Case.model_validate(case) for case in data["case"]]


def mismatch(case: Case, reading: Reading) -> dict[str, tuple[Any, Any]]:
    """Fields in which `reading` is not what the case expects, as field: (expected, read)."""
    expected, read = _comparable(case.expect, case), _comparable(reading, case)
    fields = sorted(expected.keys() | read.keys())
    return {f: (expected.get(f), read.get(f)) for f in fields if not _same(expected.get(f), read.get(f))}


def _comparable(reading: Reading, case: Case) -> dict[str, Any]:
    """What the case compares. An answer is judged on the question asked, not on what else is untold."""
    data = reading.public()
    questions = [q for q in data.pop("questions", []) if q not in case.free]
    if case.asked:
        questions = [q for q in questions if q in case.asked]
    if questions and "questions" not in case.free:
        data["questions"] = questions
    return {name: value for name, value in data.items() if name not in (*case.free, "unread")}


def _same(a: Any, b: Any, name: str = "") -> bool:
    match a, b:
        case dict(), dict():
            return a.keys() == b.keys() and all(_same(a[key], b[key], key) for key in a)
        case list(), list():
            pairs = zip(sorted(a, key=repr), sorted(b, key=repr), strict=False)
            return len(a) == len(b) and all(_same(x, y) for x, y in pairs)
        case ((float() | int()), (float() | int())):
            return abs(a - b) <= (BAR_TOLERANCE if name == "bar" else 0.00051)
    return bool(a == b)
