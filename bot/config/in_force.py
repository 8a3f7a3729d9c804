"""What answers are worked from now: the files as they came, with what the office changed laid over them."""

import logging
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from sqlite_utils import Database

from bot.config import revisions, shipped
from bot.config.basis import Basis
from bot.config.people import People
from bot.config.revisions import Revision, digest_of
from bot.config.shipped import PEOPLE
from knowledge.sourced import DataError

log = logging.getLogger("trenchword.in_force")


@dataclass(frozen=True)
class InForce:
    """The basis of answers and the people in force, and the files that they were read from.

    `shipped` are the files as they came, `people.toml` among them: that one came with `serve --people`.
    A file that the office changed is in force as changed, whatever comes with the program later: nobody's
    figures are taken away unseen. `undecided` names those that came anew since.
    """

    basis: Basis
    people: People
    shipped: Mapping[str, str]
    changed: Mapping[str, Revision]

    @classmethod
    def load(cls, db: Database | None, people: Path | None = None, came: Basis | None = None) -> "InForce":
        """What is in force on a database; without one, what came. `came` is the basis as it came, where
        they were read before. Raises DataError with file, key and reason."""
        crew = People.load(people) if people else People()
        listed = people.read_bytes().decode() if people else ""
        in_force = cls(came or Basis.load(), crew, shipped.shipped() | {PEOPLE: listed}, {})
        found = revisions.latest(db) if db and "changes" in db.table_names() else {}
        try:
            return in_force.with_changes(found)
        except DataError as error:
            if not found:
                raise
            raise DataError(
                f"{error}. These were changed in the office: {', '.join(found)}."
                " `trenchword changes shipped FILE` puts one back as it came"
            ) from error

    @property
    def texts(self) -> dict[str, str]:
        """Every file in force by name."""
        laid = {name: change.text or "" for name, change in self.changed.items() if _is_change(change)}
        return {name: text for name, text in {**self.shipped, **laid}.items() if text or name == PEOPLE}

    @property
    def undecided(self) -> list[str]:
        """The files that were changed in the office and have come otherwise since."""
        return [name for name in self.changed if self.is_undecided(name)]

    def is_undecided(self, name: str) -> bool:
        """Whether this file came otherwise since it was changed, and says something else than it does now."""
        change, came = self.changed.get(name), self.shipped.get(name, "")
        return change is not None and (
            _is_change(change) and change.shipped != digest_of(came) and change.text != came
        )

    def base(self, name: str) -> int:
        """The number of the change that a file's text in force comes from, 0 where it was never changed."""
        return self.changed[name].number if name in self.changed else 0

    def with_changes(self, found: Mapping[str, Revision]) -> "InForce":
        """What is in force once these are the last changes. Raises DataError with file, key and reason."""
        after = replace(self, changed=found)
        return after._read(
            {n: t for n, t in after.texts.items() if t != self.texts.get(n)} | self._gone(after)
        )

    def with_text(self, name: str, text: str) -> "InForce":
        """What would be in force with this text of a file. Raises DataError with file, key and reason."""
        tried = Revision(self.base(name), "", "", name, digest_of(self.shipped.get(name, "")), "", text)
        return self.with_changes({**self.changed, name: tried})

    def _gone(self, after: "InForce") -> dict[str, str]:
        return dict.fromkeys(self.texts.keys() - after.texts.keys(), "")

    def _read(self, other: Mapping[str, str]) -> "InForce":
        basis = self.basis.with_changed(other, self.texts)
        people = People.read(other[PEOPLE]) if PEOPLE in other else self.people
        people.check_kits(basis.tables.kits)
        return replace(self, basis=basis, people=people)


def _is_change(change: Revision) -> bool:
    """A text that is the file as it came then lies over nothing: the file as it comes is in force."""
    return digest_of(change.text or "") != change.shipped


def warn(in_force: InForce) -> None:
    """Say on the service's own log what lies over what came."""
    for name in in_force.undecided:
        log.error("%s: changed in the office, and came otherwise since: the office's is in force", name)
    laid = [
        n
        for n in in_force.changed
        if in_force.texts.get(n) != in_force.shipped.get(n) and not in_force.is_undecided(n)
    ]
    if laid:
        log.info("changed in the office: %s", ", ".join(laid))
