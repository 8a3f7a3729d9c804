"""What a changed file would change on the open trenches, before anybody saves it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from bot.config.in_force import InForce
from bot.dialogue.context import shift
from bot.message import Site
from bot.office.worked_again import Difference, changed, differences
from knowledge.entry.may_enter import entry
from knowledge.record.trench import Trench, rebuild
from knowledge.sizing.size import size
from knowledge.tables.load import Tables

OpenTrench = tuple[Site, Trench]


@dataclass(frozen=True)
class Consequence:
    """An open trench that would be answered otherwise."""

    site: Site
    trench: Trench
    differences: tuple[Difference, ...]


def consequences(
    trenches: Iterable[OpenTrench], now: datetime, before: InForce, after: InForce
) -> list[Consequence]:
    """The trenches whose sizing or state of entry would differ. A plan on record stays as it was answered,
    until its crew texts the figures again: what they would be told then is what is shown."""
    found = []
    for site, trench in trenches:
        there = after.people.site(site.name)
        each = (
            *_sizing(trench, before.basis.tables, after.basis.tables),
            *_entry(trench, now, (before.basis.tables, site), (after.basis.tables, there)),
        )
        if each:
            found.append(Consequence(site, trench, each))
    return found


def _sizing(trench: Trench, before: Tables, after: Tables) -> tuple[Difference, ...]:
    if trench.plan is None or before is after:
        return ()
    figures = trench.now.planned or trench.now.whole
    then, now = (size(figures, tables, trench.rulebook, trench.kit) for tables in (before, after))
    return differences(then.public(), now.public())


def _entry(
    trench: Trench, now: datetime, before: tuple[Tables, Site], after: tuple[Tables, Site]
) -> tuple[Difference, ...]:
    if before == after:
        return ()
    tables, site = after
    again = rebuild(trench.ref, trench.site, trench.rulebook, trench.kit, trench.events, tables)
    then = entry(trench, now, before[0], shift(before[1]))
    return tuple(changed(_said(then.public()), _said(entry(again, now, tables, shift(site)).public())))


def _said(outcome: dict[str, object]) -> dict[str, object]:
    return {name: outcome[name] for name in ("entry", "missing", "until")}
