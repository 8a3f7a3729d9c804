"""Two texts, line by line: what goes, what comes, and a little of what stays around it."""

import difflib
from dataclasses import dataclass
from typing import Literal

AROUND = 2  # lines shown before and after a change
NEAR = 60  # signs of a long line shown before and after what changed in it
LONG = 200  # signs


@dataclass(frozen=True)
class DiffLine:
    """One line; `gap` stands for lines left out."""

    kind: Literal["gone", "new", "same", "gap"]
    text: str = ""


def lines(before: str, after: str) -> list[DiffLine]:
    """The changed lines. Of long lines that were changed in one place only that place is shown."""
    then, now = before.splitlines(), after.splitlines()
    found: list[DiffLine] = []
    for group in difflib.SequenceMatcher(None, then, now, autojunk=False).get_grouped_opcodes(AROUND):
        found += [DiffLine("gap")] if found else []
        for tag, a, b, c, d in group:
            if tag == "equal":
                found += [DiffLine("same", text[:LONG]) for text in then[a:b]]
            else:
                found += _changed(then[a:b], now[c:d])
    return found


def _changed(gone: list[str], new: list[str]) -> list[DiffLine]:
    if len(gone) == len(new):
        pairs = [_near(old, text) for old, text in zip(gone, new, strict=True)]
        gone, new = [old for old, _ in pairs], [text for _, text in pairs]
    return [*(DiffLine("gone", text) for text in gone), *(DiffLine("new", text) for text in new)]


def _near(old: str, new: str) -> tuple[str, str]:
    """Both lines without what is the same at their ends, where they are long."""
    if max(len(old), len(new)) <= LONG:
        return old, new
    shorter = min(len(old), len(new))
    head = next((i for i in range(shorter) if old[i] != new[i]), shorter)
    tail = next((i for i in range(shorter - head) if old[-1 - i] != new[-1 - i]), shorter - head)
    begin, end = max(0, head - NEAR), max(0, tail - NEAR)
    cut = [text[begin : len(text) - end] for text in (old, new)]
    before, after = "… " if begin else "", " …" if end else ""
    return f"{before}{cut[0]}{after}", f"{before}{cut[1]}{after}"
