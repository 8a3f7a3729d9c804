"""The files that answers are worked from, by name: "soils.toml", "kits/light.toml", "words/en.toml".

They come with the program and are never written to. What the office changed is laid over them whole.
"""

import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from bot.language.catalog import WORDS as WORDS_FOLDER
from knowledge.names import DATA

PEOPLE = "people.toml"
KITS, WORDS = "kits/", "words/"


class Folders(NamedTuple):
    """Where the loaders find them."""

    data: Path
    words: Path


def shipped() -> dict[str, str]:
    """Every file as it came with the program."""
    data = {file.relative_to(DATA).as_posix(): file for file in sorted(DATA.rglob("*.toml"))}
    words = {WORDS + file.name: file for file in sorted(WORDS_FOLDER.glob("*.toml"))}
    return {name: file.read_bytes().decode() for name, file in (data | words).items()}


@contextmanager
def written_out(files: Mapping[str, str]) -> Iterator[Folders]:
    """These files on the disk while the block lasts: the loaders check them as they check those that came."""
    with tempfile.TemporaryDirectory(prefix="trenchword-") as folder:
        place = Folders(Path(folder) / "data", Path(folder) / "words")
        for name, text in files.items():
            target = place.words.parent / name if name.startswith(WORDS) else place.data / name
            if text and name != PEOPLE:
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(text.encode())
        yield place
