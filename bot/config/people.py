"""Who may text, and on which site they work: `serve --people` gives the file, the office may change it."""

import tomllib
from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from datetime import date
from itertools import takewhile
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import tomlkit
from pydantic import AfterValidator, Field, model_validator

from bot.message import Person, Site
from knowledge.record.trench import Role
from knowledge.sourced import DataError, DataRow, Rulebook, parse


def _known_zone(zone: str) -> str:
    try:
        ZoneInfo(zone)
    except (OSError, ValueError, KeyError) as error:
        raise ValueError(f"{zone!r} is no known time zone") from error
    return zone


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("holds signs that cannot be seen")
    return text


# A phone number in full, or the name that a chat service has for an account, as "telegram:123".
PhoneNumber = Annotated[str, Field(pattern=r"^(\+[1-9][0-9]{6,14}|[a-z]+:[0-9]{1,20})$")]
PersonName = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_printable)]
ShortText = Annotated[str, Field(max_length=200), AfterValidator(_printable)]
TimeOfDay = Annotated[str, Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$")]


class PersonRow(DataRow):
    """A `[[person]]` table. `appointed_until` is their last day as the competent person."""

    number: PhoneNumber
    name: PersonName
    role: Role
    site: PersonName
    appointed_until: date | None = None


class SiteRow(DataRow):
    """A `[[site]]` table. Shift times are local to `zone`; without a kit the rulebook's own is used.

    `work_days` count from Monday at nought; `kit_examined_until` is the last day of its examination.
    """

    name: PersonName
    rulebook: Rulebook = "uk"
    kit: str | None = None
    shift_start: TimeOfDay = "07:00"
    shift_end: TimeOfDay = "18:00"
    zone: Annotated[str, AfterValidator(_known_zone)] = "Europe/London"
    address: ShortText = ""
    client: ShortText = ""
    client_address: ShortText = ""
    work_days: tuple[Annotated[int, Field(ge=0, le=6)], ...] = (0, 1, 2, 3, 4, 5, 6)
    days_off: tuple[date, ...] = ()
    kit_examined_until: date | None = None


class PeopleFile(DataRow):
    """The file whole. Numbers and site names appear once each."""

    site: tuple[SiteRow, ...] = ()
    person: tuple[PersonRow, ...] = ()

    @model_validator(mode="after")
    def _once_each(self) -> "PeopleFile":
        for what, names in (
            ("person number", [row.number for row in self.person]),
            ("site name", [row.name for row in self.site]),
        ):
            twice = [name for name, times in Counter(names).items() if times > 1]
            if twice:
                raise ValueError(f"{what} {twice[0]} is listed twice")
        return self


def rows_of(text: str) -> PeopleFile:
    """The rows of a TOML text. Raises DataError that names key and reason."""
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DataError(f"people.toml: not valid TOML: {error}") from error
    return parse(Path("people.toml"), PeopleFile, found)


def written(rows: PeopleFile, over: str = "") -> str:
    """The rows as a TOML text, under the remarks that begin the text `over` which it replaces."""
    remarks = takewhile(lambda line: line.startswith("#"), over.splitlines())
    head = "".join(f"{line}\n" for line in remarks)
    return (f"{head}\n" if head else "") + tomlkit.dumps(rows.model_dump(mode="json", exclude_none=True))


class People:
    """Everybody who may text. A site that no `[[site]]` table describes has the usual terms."""

    def __init__(self, people: Iterable[Person] = (), sites: Iterable[Site] = ()) -> None:
        self._people = {person.number: person for person in people}
        self._sites = {site.name: site for site in sites}
        self._on_site: dict[str, list[Person]] = {}
        for person in self._people.values():
            self._on_site.setdefault(person.site, []).append(person)
        self._joined: tuple[tuple[Person, ...], People] | None = None

    @classmethod
    def load(cls, file: Path) -> "People":
        """Read the TOML file. Raises DataError that names file, key and reason."""
        return cls.of(parse(file, PeopleFile))

    @classmethod
    def read(cls, text: str) -> "People":
        """The people of a TOML text. Raises DataError that names key and reason."""
        return cls.of(rows_of(text))

    @classmethod
    def of(cls, rows: PeopleFile) -> "People":
        """The people and sites of a file that was read."""
        return cls(
            (Person(**row.model_dump()) for row in rows.person),
            (Site(**row.model_dump()) for row in rows.site),
        )

    def __iter__(self) -> Iterator[Person]:
        return iter(self._people.values())

    def __len__(self) -> int:
        return len(self._people)

    @property
    def described(self) -> tuple[Site, ...]:
        """The sites that a `[[site]]` table describes."""
        return tuple(self._sites.values())

    def check_kits(self, known: Collection[str]) -> None:
        """Every site's kit must be known. Raises DataError that names the site."""
        for site in self._sites.values():
            if site.kit is not None and site.kit not in known:
                raise DataError(f"site {site.name}: kit: {site.kit!r} is none of {', '.join(known)}")

    def find(self, number: str) -> Person | None:
        """The person who texts from this number, or None for a stranger."""
        return self._people.get(number)

    def joined_by(self, guests: Iterable[Person]) -> "People":
        """These people and some more, for a while; nobody on the list is replaced."""
        more = tuple(guest for guest in guests if guest.number not in self._people)
        if more and (self._joined is None or self._joined[0] != more):
            self._joined = (more, People((*self, *more), self.described))
        return self._joined[1] if more and self._joined else self

    def site(self, name: str) -> Site:
        """The site of that name."""
        return self._sites.get(name) or Site(name)

    def on_site(self, site: str) -> tuple[Person, ...]:
        """Everybody of one site, in the order of the file."""
        return tuple(self._on_site.get(site, ()))

    def supervisors(self, site: str) -> tuple[Person, ...]:
        """The competent persons of one site."""
        return tuple(person for person in self.on_site(site) if person.role == "supervisor")
