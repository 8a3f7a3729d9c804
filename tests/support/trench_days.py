"""A crew's day at one trench, told message by message, for the tests of the record and of entry.

The plan is made by hand with plain figures; the crew, the site and the kit are invented.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from itertools import count

from knowledge.entry.may_enter import entry
from knowledge.outcome import Entry, GroundName, HoldsTo, Level, Sized, Strut
from knowledge.reading import Details, Gauge, Reading, Soil, UnitsSet, details_of
from knowledge.record.shift import Shift
from knowledge.record.trench import Event, Role, Trench, told
from knowledge.sourced import Rulebook
from knowledge.tables.load import Tables, load

START = datetime(2026, 11, 25, 7, 30, tzinfo=UTC)
SHIFT = Shift(time(7), time(18))
PEOPLE: dict[Role, tuple[str, str]] = {
    "fitter": ("Sam", "+447700900123"),
    "supervisor": ("Alex", "+447700900124"),
    "office": ("Kim", "+447700900125"),
}
FIRM_CLAY = Soil(kind="clay", state="firm")
MINUTE = timedelta(minutes=1)
_ids = count()

tables: Tables = load()


def plan_for(depth: float = 1.6, struts: tuple[float, ...] = (0.5, 1.1), each: int | None = 3) -> Sized:
    """A plan of so many units a level, band 28 to 50 bar."""
    return Sized(
        units=None if each is None else each * len(struts),
        levels=tuple(Level(depth_m=z, units=each) for z in struts),
        spacing_m=2.0,
        strut=Strut(size="short", length_m=(0.6, 0.9), needed_m=0.8, capacity_kn=16.0, load_kn=10.0),
        pressure_bar=(28.0, 50.0),
        stages_m=(*(z + 0.4 for z in struts), depth),
        boards=False,
        holds_to=HoldsTo(depth_m=depth, width_m=0.9, soil=GroundName(kind="clay", state="firm")),
        pressure_kpa=15.0,
        pressure_by="practice",
        soil_type="B",
        rulebook="uk",
        kit="light",
    )


SIZING = Reading(
    purpose="size", trench="T7", depth_m=1.6, width_m=0.9, length_m=6.0, soil=FIRM_CLAY, water="dry"
)
DUG = Reading(purpose="report", depth_m=1.6)
ALL_SET = Reading(purpose="report", done=("units set",), units_set=UnitsSet(all=True))
AT_40 = ALL_SET.model_copy(update={"gauges": (Gauge(bar=40.0),)})
LADDER = Reading(purpose="report", done=("ladder",))
SPOIL = Reading(purpose="report", done=("spoil back",), spoil_m=1.0)
ENDS = Reading(purpose="report", done=("ends battered",), ends="battered")
LOCATED = Reading(purpose="report", done=("services located",))
TABLE_HERE = Reading(purpose="report", done=("table on site",))
PROPPED = Reading(purpose="report", done=("surface propped",))
SUPPORTED = Reading(purpose="report", done=("services supported",))
DRY = Reading(purpose="report", water="dry")
AIR = Reading(purpose="report", done=("air test",))
INSPECTED = Reading(purpose="report", done=("inspection",), verdict="safe")
ALLOW = Reading(purpose="report", allow=True)
ASKED = Reading(purpose="entry")


def gauges(*bars: float) -> Reading:
    """Gauges told by number, from unit one."""
    return Reading(purpose="report", gauges=tuple(Gauge(unit=n, bar=b) for n, b in enumerate(bars, 1)))


def hazard(*kinds: str, **more: object) -> Reading:
    return Reading.model_validate({"purpose": "report", "hazards": kinds, **more})


def event(
    reading: Reading,
    at: datetime,
    role: Role = "fitter",
    plan: Sized | None = None,
    sized_on: Details | None = None,
    stopped: bool = False,
    code_ok: bool = False,
    words: str = "",
    open_text: bool = False,
    seen: tuple[str, ...] = (),
    withdraws: tuple[str, ...] = (),
) -> Event:
    """Something told; a plan is taken to be worked from the message itself unless said otherwise."""
    name, number = PEOPLE[role]
    if plan and sized_on is None:
        sized_on = details_of(reading)
    return Event(
        f"m-{next(_ids)}",
        at,
        name,
        number,
        role,
        reading,
        plan,
        sized_on,
        stopped,
        code_ok,
        words=words,
        open_text=open_text,
        seen=seen,
        withdraws=withdraws,
    )


@dataclass
class Day:
    """Tells one trench, a minute a message."""

    rulebook: Rulebook = "uk"
    now: datetime = START
    trench: Trench = field(init=False)

    def __post_init__(self) -> None:
        self.trench = Trench("T7", "Mill Lane", self.rulebook, "light")

    def tell(self, reading: Reading, role: Role = "fitter", **more: object) -> "Day":
        self.now += MINUTE
        self.trench = told(self.trench, event(reading, self.now, role, **more), tables)  # type: ignore[arg-type]
        return self

    def sized(self, plan: Sized | None = None, reading: Reading = SIZING) -> "Day":
        return self.tell(reading, plan=plan or plan_for())

    def works(self) -> "Day":
        """All that a fitter tells on a good day, once it is sized."""
        for reading in (DUG, AT_40, LADDER, SPOIL, ENDS, LOCATED, AIR):
            self.tell(reading)
        return self.tell(TABLE_HERE) if self.rulebook == "us" else self

    def wait(self, **span: float) -> "Day":
        self.now += timedelta(**span)
        return self

    def entry(self) -> Entry:
        return entry(self.trench, self.now, tables, SHIFT)

    def missing(self) -> set[str]:
        """Facts in the way; empty only where the answer is `may`."""
        found = self.entry()
        assert (found.entry == "may") == (not found.missing)
        return {each.fact for each in found.missing}


def good_day(rulebook: Rulebook = "uk") -> Day:
    """A day on which nothing is missing."""
    return Day(rulebook).sized().works().tell(INSPECTED, "supervisor")


def tell_all(trench: Trench, events: Iterable[Event]) -> Trench:
    for each in events:
        trench = told(trench, each, tables)
    return trench
