"""What changed people and sites mean: who can no longer text, who lets in, which trenches are left alone."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from bot.config.in_force import InForce
from bot.dialogue.context import shift
from bot.message import Person, Site
from bot.office.what_if import OpenTrench
from knowledge.entry.may_enter import allowance
from knowledge.record.trench import Role, Trench

ACTS = {
    "look": "ask",
    "tell": "report",
    "inspect": "inspect",
    "allow": "let people in",
    "close": "close a trench",
}


NOT_SAID = "not said"


@dataclass(frozen=True)
class CrewNote:
    """One thing that would be otherwise; `bad` where somebody has to see to it."""

    text: str
    bad: bool = False


def crew_notes(
    before: InForce, after: InForce, trenches: Sequence[OpenTrench], now: datetime
) -> list[CrewNote]:
    """What to know before saving, the bad things first."""
    found = [
        *_people(before, after),
        *_sites(before, after, trenches),
        *_left(after, trenches),
        *_allowances(before, after, trenches, now),
    ]
    return sorted(dict.fromkeys(found), key=lambda note: not note.bad)


def _people(before: InForce, after: InForce) -> Iterator[CrewNote]:
    then, now = ({person.number: person for person in in_force.people} for in_force in (before, after))
    for number in dict.fromkeys((*then, *now)):
        old, new = then.get(number), now.get(number)
        if old and not new:
            yield CrewNote(f"{old.name} ({number}) can no longer text.", bad=True)
        elif new and not old:
            yield CrewNote(f"{_named(new)} may text: {', '.join(_acts(after, new.role))}.")
        elif old and new and old != new:
            yield from _person(before, after, old, new)


def _person(before: InForce, after: InForce, old: Person, new: Person) -> Iterator[CrewNote]:
    yield CrewNote(f"{_named(old)} is now {_named(new)}.")
    lost = [act for act in _acts(before, old.role) if act not in _acts(after, new.role)]
    gained = [act for act in _acts(after, new.role) if act not in _acts(before, old.role)]
    if lost:
        yield CrewNote(f"{new.name} may no longer {', '.join(lost)}.", bad=True)
    if gained:
        yield CrewNote(f"{new.name} may from now on {', '.join(gained)}.")


def _sites(before: InForce, after: InForce, trenches: Sequence[OpenTrench]) -> Iterator[CrewNote]:
    then, now = ({site.name: site for site in in_force.people.described} for in_force in (before, after))
    worked, working = ({person.site for person in in_force.people} for in_force in (before, after))
    for name in sorted(then.keys() | now.keys() | working):
        old, new = before.people.site(name), after.people.site(name)
        if name not in now and (name in then or name not in worked):
            yield CrewNote(
                f"No site {name} is described: it has the usual terms, {_terms(new)}.", name in working
            )
        elif name not in then and name in now:
            yield CrewNote(f"Site {name} is new: {_terms(new)}, the {_kit(after, new)} kit.")
        else:
            yield from _site(old, new)
        if (old.rulebook, _kit(before, old)) != (new.rulebook, _kit(after, new)):
            begun = [trench for site, trench in trenches if site.name == name]
            yield from _stay(begun, f"{new.rulebook} and the {_kit(after, new)} kit")


def _site(old: Site, new: Site) -> Iterator[CrewNote]:
    was = asdict(old)
    for name, value in asdict(new).items():
        if was[name] != value:
            words = name.replace("_", " ")
            yield CrewNote(f"{new.name}: {words} was {was[name] or NOT_SAID}, is now {value or NOT_SAID}.")


def _stay(begun: Sequence[Trench], now: str) -> Iterator[CrewNote]:
    """Trenches keep the rulebook and kit that they were begun by."""
    for by in dict.fromkeys((trench.rulebook, trench.kit) for trench in begun):
        refs = ", ".join(trench.ref for trench in begun if (trench.rulebook, trench.kit) == by)
        yield CrewNote(
            f"{refs} on {begun[0].site}: begun by rulebook {by[0]} and the {by[1]} kit, and answered by them"
            f" still; trenches begun from now on by {now}.",
            bad=True,
        )


def _left(after: InForce, trenches: Sequence[OpenTrench]) -> Iterator[CrewNote]:
    """Open trenches that nobody could answer for."""
    for name in dict.fromkeys(site.name for site, _ in trenches):
        refs = ", ".join(trench.ref for site, trench in trenches if site.name == name)
        if not after.people.on_site(name):
            yield CrewNote(f"Nobody of {name} could text any more, and there is open: {refs}.", bad=True)
        if not any("let people in" in _acts(after, person.role) for person in after.people.on_site(name)):
            yield CrewNote(
                f"{name} would be without a supervisor: nobody can let anyone in there, and no alert of a"
                f" hazard reaches a competent person. Open: {refs}.",
                bad=True,
            )


def _allowances(
    before: InForce, after: InForce, trenches: Sequence[OpenTrench], now: datetime
) -> Iterator[CrewNote]:
    """People who are in a trench by the word of somebody who could not let them in any more."""
    for site, trench in trenches:
        given = allowance(trench, now, before.basis.tables, shift(site))
        giver = after.people.find(given.number) if given else None
        able = giver and giver.site == site.name and "let people in" in _acts(after, giver.role)
        if given and not able:
            yield CrewNote(
                f"{trench.ref} on {site.name}: people were let in by {given.by}, and that stands until it"
                " lapses. Ring the site if it must not.",
                bad=True,
            )


def _acts(in_force: InForce, role: Role) -> list[str]:
    return [said for act, said in ACTS.items() if act in in_force.basis.tables.entry.roles[role].may]


def _named(person: Person) -> str:
    return f"{person.name} ({person.number}), {person.role} on {person.site},"


def _kit(in_force: InForce, site: Site) -> str:
    return site.kit or in_force.basis.tables.rulebook(site.rulebook).kit


def _terms(site: Site) -> str:
    return f"rulebook {site.rulebook}, {site.shift_start} to {site.shift_end}, {site.zone}"
