"""The reply: what a fitter in the rain reads. Decision and first act first, then what was understood, then
what bites, in at most three SMS segments and in the sender's own units.

A sentence that keeps people out is said last and never left out.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo
from itertools import accumulate

from bot.channels import segments
from bot.language.catalog import Catalog, said_back
from bot.language.sender_units import SenderUnits
from bot.message import Manner, Reply
from knowledge.names import STATES_OF
from knowledge.outcome import Ask, Caution, Entry, EntryFact, Missing, Sized, Stop, Strut
from knowledge.reading import ASKED, CHOICES, LENGTHS, YES_NO, BuriedService, Details, Gauge, Reading, Soil
from knowledge.record.set_shores import SetShores
from knowledge.record.state import DugRun
from knowledge.sizing.load_list import LoadItem, LoadList
from knowledge.units import Amount, Bar, LimitSide, Metre

MOST_SEGMENTS = 3
USUAL_SEGMENTS = 2  # of a plan: what only warns is left to WHY rather than cost a third
LOCATE = "services-locate"  # said before the first depth to dig to, and never left to WHY
MOST_LINES = 60  # of a list: no more fit into three segments, however short each is
HOLDING: tuple[EntryFact, ...] = ("open hazard", "stopped", "open text")  # no list of things to do ends them
MOST_SENTENCES = 3  # of what is missing, after a report; "can we go in" tells all


class ReplyWriter(SenderUnits):
    """Writes in one language and one sender's units."""

    def __init__(self, catalog: Catalog, manner: Manner, zone: tzinfo, *, reviewed: bool = True) -> None:
        super().__init__(manner)
        self.catalog = catalog
        self.zone = zone
        self.reviewed = reviewed  # by somebody who speaks it at work

    def say(self, key: str, **blanks: Amount | str) -> str:
        return self.catalog.fill(self.catalog.say[key], blanks, self.lengths)

    def length(self, metres: Metre, limit: LimitSide | None = None) -> str:
        return self.catalog.figures.written(super().length(metres, limit))

    def told(self, metres: Metre) -> str:
        return self.catalog.figures.written(super().told(metres))

    def along(self, metres: Metre | None) -> str:
        """Where along the street something begins or ends; "?" where nobody told it."""
        return "?" if metres is None else self.told(metres)

    def band(self, low: Bar, high: Bar) -> str:
        return self.catalog.figures.written(super().band(low, high))

    def figure(self, value: float, unit: str, decimals: int = 0) -> str:
        """A figure with its unit, as the language writes it."""
        return self.catalog.figures.written(f"{value:.{decimals}f} {unit}")

    def unreviewed(self) -> str:
        """That nobody has read these words over, in short: it stands on every plan, refusal and danger."""
        return "" if self.reviewed else self.say("unreviewed-short")

    def time(self, when: datetime) -> str:
        return f"{when.astimezone(self.zone):%H:%M}"

    def soil(self, soil: Soil) -> str:
        words = [w for w in (soil.state, soil.kind) if w]
        name = self.catalog.term(" ".join(words)) if words else ""
        return f"{name} {self.catalog.term('type')} {soil.type}".strip() if soil.type else name

    def service(self, service: BuriedService) -> str:
        depth = self.told(service.depth_m) if service.depth_m is not None else "?"
        what = self.catalog.term(service.what)
        if service.at_m is None:
            return self.detail("service-along", what=what, depth=depth)
        return self.detail("service", what=what, at=self.told(service.at_m), depth=depth)

    def detail(self, key: str, **blanks: str) -> str:
        """A detail, said back."""
        return self.catalog.fill(self.catalog.detail[key], blanks)

    def echo(self, details: Details) -> str:
        """What was understood, said back so that a misreading shows."""
        return ", ".join(self.details(details))

    def details(self, details: Details) -> list[str]:
        """Each detail told, said back."""
        parts = self._lengths(details, of_trench=True)
        if details.soil:
            parts.append(self.soil(details.soil))
        told = {
            name: value for name in CHOICES if name in ASKED and (value := getattr(details, name)) is not None
        }
        words = [said_back(name, value) for name, value in told.items() if CHOICES[name] != YES_NO]
        parts += [self.catalog.term(word) for word in words]
        parts += self._lengths(details, of_trench=False)
        yes_no = [
            f"{name}-{'yes' if value else 'no'}" for name, value in told.items() if CHOICES[name] == YES_NO
        ]
        parts += [self.catalog.detail[key] for key in yes_no]
        return parts + [self.service(s) for s in details.services]

    def _lengths(self, details: Details, *, of_trench: bool) -> list[str]:
        wanted = [name for name in LENGTHS.values() if ASKED[name].of_trench == of_trench]
        told = {name: value for name in wanted if (value := getattr(details, name)) is not None}
        return [self.detail(name, value=self.told(told[name])) for name in told]

    def question(self, name: str, details: Details) -> str:
        """One short question for a field of the reading."""
        soil = details.soil
        if name == "soil" and soil and soil.kind:
            family = "clay" if "very soft" in STATES_OF.get(soil.kind, ()) else "sand"
            return self.catalog.fill(
                self.catalog.ask[f"soil-state-{family}"], {"kind": self.catalog.term(soil.kind)}
            )
        return self.catalog.ask[name]

    def facts(self, reading: Reading) -> list[str]:
        """What a report told, as a short list."""
        term = self.catalog.term
        counted = reading.units_set is not None and (reading.units_set.n or reading.units_set.level)
        told_by_figure = {"units set"} if counted else set()
        told_by_figure |= {"spoil back"} if reading.spoil_m is not None else set()
        facts = [term(done) for done in reading.done if done not in told_by_figure]
        facts += [self.say("not-done", fact=term(undone)) for undone in reading.undone]
        told = reading.units_set
        if told is not None and told.rows and not told.all:
            rows = f"1-{told.rows}"
            facts.append(self.say("level-set", level=self.say("level-n", level=rows)))
        level = self.say("level-n", level=str(told.level)) if told and told.level else ""
        if told and told.n is not None:
            facts.append(self.say("units-n", units=str(told.n), level=level).strip())
        elif level and "units out" in reading.done:
            facts[facts.index(term("units out"))] = f"{term('units out')}, {level}"
        elif level:
            facts.append(self.say("level-set", level=level))
        each = f" x{reading.read_on}" if reading.read_on and not (told and told.n) else ""
        said = [f"{self.gauge(gauge)}{each}" for gauge in reading.gauges]
        facts += [self.say("fact-gauge-all", bar=bar) for bar in said] if reading.of_every else said
        dug = reading.depth_m if reading.purpose == "report" else None
        facts.append(self.say("fact-dug", depth=self.told(dug)) if dug is not None else "")
        described = reading if dug is None else reading.model_copy(update={"depth_m": None})
        if reading.place:
            facts.append(self.say("fact-place", place=reading.place))
        if reading.run_m and reading.purpose == "report":
            facts.append(self.say("fact-runs", length=self.told(reading.run_m)))
        if reading.run:
            facts.append(self.say("fact-run", run=str(reading.run)))
        if reading.guarded:
            both = reading.guarded == "fence and lights"
            facts.append(self.say("fact-guarded") if both else self.say("fact-fenced"))
        return [each for each in dict.fromkeys([*facts, *self.details(described)]) if each]

    def gauge(self, gauge: Gauge) -> str:
        """One gauge reading, in the unit it was told in."""
        read = f"{self.catalog.figures.written(self.read(gauge.bar))} {self.pressure or 'bar'}"
        return read if gauge.unit is None else self.say("fact-gauge", unit=str(gauge.unit), bar=read)

    def load(self, refs: str, load: LoadList) -> list[str]:
        """The kit list in one line of things and one of weights."""
        things = ", ".join(f"{self.item(item)} x{item.count}" for item in load.items)
        run = self.say("load-run", run=self.length(load.per_run_m)) if load.per_run_m else ""
        weights = self.say(
            "load-total", mass=self.figure(load.mass_kg, "kg"), fluid=self.figure(load.fluid_l, "L", 1)
        )
        hands = "" if load.unit_hands is None else str(load.unit_hands)
        unit = self.say("load-unit", mass=self.figure(load.unit_kg, "kg"), hands=hands) if hands else ""
        roped = self.say("load-roped") if load.roped else ""
        return [
            part for part in (self.say("load", trench=refs, things=things), run, weights, unit, roped) if part
        ]

    def item(self, item: LoadItem) -> str:
        name = self.catalog.term(item.name)
        return f"{name} {self.length(item.length_m)}" if item.length_m is not None else name

    def taken(self, manner: Manner) -> list[str]:
        return [
            self.say("taken", word=word, meaning=self.catalog.term(meaning)) for word, meaning in manner.taken
        ]

    def cautions(self, cautions: Iterable[Caution]) -> list[str]:
        return [self.catalog.sentence(c, self.lengths) for c in cautions]

    def example(self, what: str) -> str:
        """How a report is texted so that it counts."""
        return self.catalog.examples[what]

    def missing(self, missing: Iterable[Missing]) -> str:
        return ", ".join(dict.fromkeys(self.catalog.term(m.fact) for m in missing))


def fit(parts: Sequence[str], more: str = "", last: str = "", most: int = MOST_SEGMENTS) -> str:
    """The parts in order, as many as `most` segments hold; what matters most comes first.

    Where some are left out, `more` says how to get them. `last` stays, whatever is left out.
    """
    wanted = [part for part in parts if part]
    ends = list(accumulate(len(part) + 1 for part in wanted))
    kept = wanted[: max(1, bisect_right(ends, most * segments.GSM_PART + 1))]  # more fit in no alphabet
    while True:
        text = _joined([*kept, more if len(kept) < len(wanted) else "", last])
        if len(kept) <= 1 or segments.count(text).parts <= most:
            return text
        kept.pop()


def noted_with(text: str, note: str) -> str:
    """The text with a note after it, where there is room."""
    whole = _joined([text, note])
    return whole if segments.count(whole).parts <= MOST_SEGMENTS else text


def marked(pen: ReplyWriter, text: str) -> str:
    """A text in words that no native speaker has read over, which says so where there is room."""
    return noted_with(text, pen.say("unreviewed"))


def _joined(parts: Sequence[str]) -> str:
    return segments.to_gsm(" ".join(part for part in parts if part))


def ask(
    pen: ReplyWriter, outcome: Ask, ref: str | None, details: Details, manner: Manner, unsure: bool
) -> list[str]:
    """One short question, then what is known so far."""
    known = pen.echo(details)
    so_far = pen.say("so-far", trench=ref, details=known) if ref and known else ""
    question = pen.question(outcome.questions[0], details)
    return [question, pen.catalog.ask["unsure"] if unsure else "", so_far, *pen.taken(manner)]


def sized(
    pen: ReplyWriter,
    outcome: Sized,
    ref: str,
    details: Details,
    manner: Manner,
    *,
    first: str = "",
    notes: Sequence[str] = (),
) -> str:
    """The plan: what to set and how, then what was understood and `notes` on it, then what bites.

    Nobody in is said whatever is left out. What a crew must do may cost a third segment, what only warns not.
    """
    count = outcome.units if outcome.units is not None else outcome.units_per_run
    blanks = {"trench": ref, "units": str(count), "spacing": pen.length(outcome.spacing_m, "upper")}
    if outcome.units is None and outcome.run_m is not None:
        figures = pen.say("units-run", run=pen.length(outcome.run_m), **blanks)
    else:
        figures = pen.say("units", **blanks)
    bites = _beside_the_plan(outcome.cautions)
    locate = any(each.id == LOCATE for each in bites)
    plan = [
        first,
        figures,
        pen.say("services-first") if locate else "",
        *dig(pen, outcome),
        strut(pen, outcome),
        pen.say("pump", band=pen.band(*outcome.pressure_bar)),
        pen.say("boards") if outcome.boards else "",
        *turned(pen, outcome),
        *propped(pen, outcome),
    ]
    out, note = pen.say("nobody-in"), pen.unreviewed()
    known = understood(pen, details, _joined([*plan, out]))
    last = _joined([out, note])
    if segments.count(_joined([*plan, known, last])).parts > MOST_SEGMENTS:
        last = _joined([out])  # what was understood matters more
    must = [
        *plan,
        known,
        *pen.taken(manner),
        *notes,
        *[pen.question(name, details) for name in outcome.questions[:1]],
    ]
    least = segments.count(_joined([*must, last])).parts
    most = max(USUAL_SEGMENTS, min(least, MOST_SEGMENTS))
    more = pen.say("more")
    if segments.count(_joined([*must, more, last])).parts > most:
        more = ""
    return fit([*must, *pen.cautions(each for each in bites if each.id != LOCATE)], more, last, most)


def understood(pen: ReplyWriter, details: Details, beside: str) -> str:
    """What was understood, as much of it as three segments hold beside the rest; the trench itself first. How
    much is left out is told where that leaves room for more than the depth."""
    told = pen.details(details)
    tries = [*((kept, True) for kept in range(len(told), 1, -1)), (2, False), (1, True)]
    for kept, counted in tries:
        left = max(0, len(told) - kept)
        more = [pen.say("status-more", count=str(left))] if left and counted else []
        text = pen.say("echo", details=", ".join([*told[:kept], *more]))
        if told and segments.count(_joined([beside, text])).parts <= MOST_SEGMENTS:
            return text
    return ""


def _beside_the_plan(cautions: Sequence[Caution]) -> list[Caution]:
    """What bites. That nobody goes in is said apart."""
    return [each for each in cautions if not each.id.startswith("competent-person")]


def strut(pen: ReplyWriter, outcome: Sized) -> str:
    """The strut and its extensions, as one would ask for them."""
    text = _strut(pen, outcome.strut)
    return text[:1].upper() + text[1:]


def _strut(pen: ReplyWriter, strut: Strut) -> str:
    name = pen.catalog.term(f"strut {strut.size}")
    extensions = " + ".join(pen.length(each) for each in strut.extensions_m)
    key = "strut-extended" if extensions else "strut"
    return pen.say(key, strut=name, **({"extensions": extensions} if extensions else {}))


def turned(pen: ReplyWriter, plan: Sized) -> list[str]:
    """Which units are turned, their rails lying level."""
    return [pen.say("turned", units=SetShores.listed(list(plan.turned)))] if plan.turned else []


def propped(pen: ReplyWriter, plan: Sized) -> list[str]:
    """The props of a surface that overhangs: how many more units, how deep, and with which strut."""
    if plan.props is None:
        return []
    strut = _strut(pen, plan.props.strut)
    return [pen.say("props", units=str(plan.props.count), at=pen.length(plan.props.depth_m), strut=strut)]


def dig(pen: ReplyWriter, outcome: Sized) -> list[str]:
    """The stages of the dig: how deep, and what is set there before anybody digs on."""
    told = []
    for level, depth in zip(outcome.levels, outcome.stages_m, strict=False):
        dug, at = pen.length(depth, "upper"), pen.length(level.depth_m)
        if level.units is None:
            told.append(pen.say("dig-set-row", depth=dug, at=at))
        else:
            told.append(pen.say("dig-set", depth=dug, units=str(level.units), at=at))
    *_, before, bottom = (0.0, *outcome.stages_m)
    if len(outcome.stages_m) > len(outcome.levels) and before < bottom:  # else it is set from the bottom
        told.append(pen.say("dig-last", depth=pen.told(bottom)))
    return told


def stop(
    pen: ReplyWriter,
    outcome: Stop,
    ref: str | None,
    details: Details,
    manner: Manner,
    notes: Sequence[str] = (),
) -> str:
    """Not with these shores: why, and what would do instead."""
    first, *rest = outcome.stop
    lengths, known = pen.lengths, pen.echo(details)
    must = [
        pen.say("stop", trench=ref or "").strip(),
        pen.catalog.sentence(first, lengths),
        pen.say("stop-instead", instead=pen.catalog.instead(first, lengths)),
        pen.say("echo", details=known) if known else "",
        *notes,
    ]
    may = [pen.catalog.sentence(r, lengths) for r in rest]
    parts = [*must, *may, *pen.taken(manner), *pen.cautions(_beside_the_plan(outcome.cautions))]
    return fit(parts, pen.say("more"), pen.unreviewed())


def in_sentences(text: str) -> list[str]:
    """A reply in its sentences, so that as much of it follows a call as there is room for."""
    return re.split(r"(?<=[.!?]) ", text)


def danger(pen: ReplyWriter, where: str, sentences: Sequence[Caution], inside: Sequence[str] = ()) -> str:
    """Everyone out, who was in, one act, the number to ring; and last, whatever is left out, that nobody
    goes in."""
    out, *acts, stay_out = pen.cautions(sentences)
    first = f"{where}: {out}" if where else out
    return fit([first, *inside, *acts], last=_joined([stay_out, pen.unreviewed()]))


def entry(pen: ReplyWriter, outcome: Entry, *, allows: bool = False) -> str:
    """NOBODY IN and why, worst first; or that nothing on record is in the way, which is no leave.

    `allows`: the reader is who may let people in, and is told how.
    """
    if outcome.entry == "no":
        sentences = [pen.catalog.sentence(m, pen.lengths) for m in outcome.missing]
        if allows and {each.fact for each in outcome.missing} == {"inspection"}:
            sentences.append(pen.say("note-inspection"))
        return fit(
            [pen.say("entry-no", trench=outcome.trench).lstrip(": "), *sentences], pen.say("more-missing")
        )
    return fit([_in_the_way_of_nothing(pen, outcome, allows), *pen.cautions(outcome.cautions)])


def _in_the_way_of_nothing(pen: ReplyWriter, outcome: Entry, allows: bool) -> str:
    until = pen.time(outcome.until) if outcome.until else "?"
    if outcome.allowed_by:
        return pen.say("entry-allowed", trench=outcome.trench, name=outcome.allowed_by, until=until)
    return pen.say("entry-may-allows" if allows else "entry-may", trench=outcome.trench, until=until)


def before_entry(pen: ReplyWriter, outcome: Entry, *, allows: bool = False) -> list[str]:
    """What still stands in the way, after a report: in words where it is little, else only named."""
    missing = outcome.missing
    if not missing and outcome.allowed_by:
        return [_in_the_way_of_nothing(pen, outcome, allows)]
    if not missing:
        key = "nothing-missing-allows" if allows else "nothing-missing"
        return [pen.say(key, trench=outcome.trench)]
    in_words, to_do = missing, []
    if len(missing) > MOST_SENTENCES:
        in_words = tuple(each for each in missing if each.fact in HOLDING)[:1]
        to_do = [each for each in missing if each.fact not in HOLDING]
    sentences = " ".join(pen.catalog.sentence(each, pen.lengths) for each in in_words)
    return [
        pen.say("still-missing-said", missing=sentences) if sentences else "",
        pen.say("still-missing", missing=pen.missing(to_do)) if to_do else "",
    ]


def listed(pen: ReplyWriter, lines: Sequence[str], of: int) -> str:
    """As many lines as three segments hold, and how many more there are `of` all."""
    for kept in range(min(len(lines), MOST_LINES), 0, -1):
        left = of - kept
        more = [pen.say("status-more", count=str(left))] if left else []
        text = segments.to_gsm("; ".join([*lines[:kept], *more]))
        if segments.count(text).parts <= MOST_SEGMENTS:
            return text
    return fit(lines[:1])


def grounds(pen: ReplyWriter, outcome: Sized) -> list[str]:
    """On what an answer rests: what governed, how far it holds, and every caution."""
    holds = outcome.holds_to
    ground = Soil(kind=holds.soil.kind, state=holds.soil.state, type=holds.soil.type)
    return [
        pen.say(
            "why-pressure",
            pressure=pen.figure(outcome.pressure_kpa, "kPa", 1),
            by=pen.catalog.term(outcome.pressure_by),
        ),
        pen.say(
            "why-strut",
            load=pen.figure(outcome.strut.load_kn, "kN", 1),
            capacity=pen.figure(outcome.strut.capacity_kn, "kN", 1),
        ),
        pen.say(
            "holds",
            depth=pen.length(holds.depth_m, "upper"),
            width=pen.length(holds.width_m, "upper"),
            soil=pen.soil(ground),
        ),
        *pen.cautions(outcome.cautions),
    ]


def sketch(pen: ReplyWriter, ref: str, plan: Sized, run: DugRun | None = None) -> list[str]:
    """The plan in words: for each level how deep the struts are, and where each unit stands; of which run."""
    lines = [pen.say("sketch", trench=ref)]
    if run:
        start, end = pen.along(run.start_m), pen.along(run.end_m)
        lines.append(pen.say("sketch-run", run=str(run.number), start=start, end=end))
    for level in plan.levels:
        depth = pen.length(level.depth_m)
        if level.positions_m is None:
            every = pen.length(plan.spacing_m, "upper")
            lines.append(pen.say("sketch-every", depth=depth, spacing=every))
        else:
            places = ", ".join(pen.told(at) for at in level.positions_m)
            lines.append(pen.say("sketch-level", depth=depth, places=places))
    return [*lines, *turned(pen, plan), *propped(pen, plan)]


def to(number: str, text: str) -> Reply:
    """A text to one number, in the cheap alphabet where that keeps its meaning."""
    return Reply(to=number, text=segments.to_gsm(text))
