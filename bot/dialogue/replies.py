"""The reply: what a fitter in the rain reads. Decision and figures first, then what was understood,
then what to do and what bites, in at most three SMS segments and in the sender's own units."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo
from itertools import accumulate

from bot.channels import segments
from bot.language.catalog import Catalog, fill, said_back
from bot.language.sender_units import SenderUnits
from bot.message import Manner, Reply
from knowledge.names import STATES_OF
from knowledge.outcome import Ask, Caution, Entry, Missing, Sized, Stop
from knowledge.reading import ASKED, CHOICES, LENGTHS, YES_NO, BuriedService, Details, Gauge, Reading, Soil
from knowledge.record.set_shores import SetShores
from knowledge.sizing.load_list import LoadItem, LoadList
from knowledge.units import Amount

MOST_SEGMENTS = 3
MOST_SENTENCES = 3  # of what is missing, after a report; "can we go in" tells all


class ReplyWriter(SenderUnits):
    """Writes in one language and one sender's units."""

    def __init__(self, catalog: Catalog, manner: Manner, zone: tzinfo) -> None:
        super().__init__(manner)
        self.catalog = catalog
        self.zone = zone

    def say(self, key: str, **blanks: Amount | str) -> str:
        return fill(self.catalog.say[key], blanks, self.lengths)

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
            return fill(self.catalog.detail["service-along"], {"what": what, "depth": depth})
        at = self.told(service.at_m)
        return fill(self.catalog.detail["service"], {"what": what, "at": at, "depth": depth})

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
        return [fill(self.catalog.detail[name], {"value": self.told(told[name])}) for name in told]

    def question(self, name: str, details: Details) -> str:
        """One short question for a field of the reading."""
        soil = details.soil
        if name == "soil" and soil and soil.kind:
            family = "clay" if "very soft" in STATES_OF.get(soil.kind, ()) else "sand"
            return fill(self.catalog.ask[f"soil-state-{family}"], {"kind": self.catalog.term(soil.kind)})
        return self.catalog.ask[name]

    def facts(self, reading: Reading) -> list[str]:
        """What a report told, as a short list."""
        term = self.catalog.term
        facts = [term(done) for done in reading.done]
        facts += [self.say("not-done", fact=term(undone)) for undone in reading.undone]
        told = reading.units_set
        level = self.say("level-n", level=str(told.level)) if told and told.level else ""
        if told and told.n is not None:
            facts.append(self.say("units-n", units=str(told.n), level=level).strip())
        elif level and "units out" in reading.done:
            facts[facts.index(term("units out"))] = f"{term('units out')}, {level}"
        elif level:
            facts.append(self.say("level-set", level=level))
        facts += [self.gauge(gauge) for gauge in reading.gauges]
        if reading.place:
            facts.append(self.say("fact-place", place=reading.place))
        if reading.run_m and reading.purpose == "report":
            facts.append(self.say("fact-runs", length=self.told(reading.run_m)))
        if reading.run:
            facts.append(self.say("fact-run", run=str(reading.run)))
        if reading.guarded:
            facts.append(self.say("fact-guarded"))
        return list(dict.fromkeys([*facts, *self.details(reading)]))

    def gauge(self, gauge: Gauge) -> str:
        """One gauge reading, in the unit it was told in."""
        unit = f"U{gauge.unit} " if gauge.unit is not None else ""
        return f"{unit}{self.read(gauge.bar)} {self.pressure or 'bar'}"

    def load(self, refs: str, load: LoadList) -> list[str]:
        """The kit list in one line of things and one of weights."""
        things = ", ".join(f"{item.count} {self.item(item)}" for item in load.items)
        run = self.say("load-run", run=self.length(load.per_run_m)) if load.per_run_m else ""
        weights = self.say("load-total", mass=f"{load.mass_kg:.0f} kg", fluid=f"{load.fluid_l:.1f} L")
        hands = "" if load.unit_hands is None else str(load.unit_hands)
        unit = self.say("load-unit", mass=f"{load.unit_kg:.0f} kg", hands=hands) if hands else ""
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


def fit(parts: Sequence[str], more: str = "", last: str = "") -> str:
    """The parts in order, as many as three segments hold; what matters most comes first.

    Where some are left out, `more` says how to get them. `last` stays, whatever is left out.
    """
    wanted = [part for part in parts if part]
    room = MOST_SEGMENTS * segments.GSM_PART
    ends = list(accumulate(len(part) + 1 for part in wanted))
    kept = wanted[: max(1, bisect_right(ends, room + 1))]  # no more can fit, whatever the alphabet
    while True:
        text = _joined([*kept, more if len(kept) < len(wanted) else "", last])
        if len(kept) <= 1 or segments.count(text).parts <= MOST_SEGMENTS:
            return text
        kept.pop()


def marked(pen: ReplyWriter, text: str) -> str:
    """A text in words that no native speaker has read over, which says so where there is room."""
    whole = _joined([text, pen.say("unreviewed")])
    return whole if segments.count(whole).parts <= MOST_SEGMENTS else text


def _joined(parts: Sequence[str]) -> str:
    return segments.to_gsm(" ".join(part for part in parts if part))


def ask(
    pen: ReplyWriter, outcome: Ask, ref: str | None, details: Details, manner: Manner, unsure: bool
) -> str:
    """One short question, after what is known so far."""
    known = pen.echo(details)
    so_far = pen.say("so-far", trench=ref, details=known) if ref and known else ""
    question = pen.question(outcome.questions[0], details)
    return fit([so_far, question, pen.catalog.ask["unsure"] if unsure else "", *pen.taken(manner)])


def sized(pen: ReplyWriter, outcome: Sized, ref: str, details: Details, manner: Manner) -> str:
    count = outcome.units if outcome.units is not None else outcome.units_per_run
    levels = " + ".join(
        pen.length(level.depth_m)
        if level.units is None
        else pen.say("level", units=str(level.units), depth=pen.length(level.depth_m))
        for level in outcome.levels
    )
    blanks = {
        "trench": ref,
        "units": str(count),
        "levels": levels,
        "spacing": pen.length(outcome.spacing_m, "upper"),
    }
    if outcome.units is None and outcome.run_m is not None:
        figures = pen.say("units-run", run=pen.length(outcome.run_m), **blanks)
    else:
        figures = pen.say("units", **blanks)
    strut = outcome.strut
    extensions = " + ".join(pen.length(e) for e in strut.extensions_m)
    with_strut = (
        pen.say("strut-extended", size=strut.size, extensions=extensions)
        if extensions
        else pen.say("strut", size=strut.size)
    )
    must = [
        figures,
        with_strut,
        pen.say("pump", band=pen.band(*outcome.pressure_bar)),
        pen.say("boards") if outcome.boards else "",
        *turned(pen, outcome),
        pen.say("echo", details=pen.echo(details)),
        *pen.taken(manner),
        *dig(pen, outcome),
    ]
    question = [pen.question(name, details) for name in outcome.questions[:1]]
    return fit([*must, *question, *pen.cautions(outcome.cautions)], pen.say("more"))


def turned(pen: ReplyWriter, plan: Sized) -> list[str]:
    """Which units are turned, their rails lying level."""
    return [pen.say("turned", units=SetShores.listed(list(plan.turned)))] if plan.turned else []


def dig(pen: ReplyWriter, outcome: Sized) -> list[str]:
    """The stages of the dig, each set before the next."""
    *stages, last = outcome.stages_m
    told = [
        pen.say("dig-first" if i == 0 else "dig-next", depth=pen.length(stage, "upper"))
        for i, stage in enumerate(stages)
    ]
    if stages and stages[-1] < last:  # else the last level is set from the bottom
        told.append(pen.say("dig-last", depth=pen.told(last)))
    return told


def stop(pen: ReplyWriter, outcome: Stop, ref: str | None, details: Details, manner: Manner) -> str:
    first, *rest = outcome.stop
    lengths = pen.lengths
    must = [
        pen.say("stop", trench=ref or "").strip(),
        pen.catalog.sentence(first, lengths),
        pen.say("stop-instead", instead=pen.catalog.instead(first, lengths)),
        pen.say("echo", details=pen.echo(details)) if pen.echo(details) else "",
    ]
    may = [pen.catalog.sentence(r, lengths) for r in rest]
    return fit([*must, *may, *pen.taken(manner), *pen.cautions(outcome.cautions)], pen.say("more"))


def entry(pen: ReplyWriter, outcome: Entry) -> str:
    """NOBODY IN and why, worst first; or that nothing on record is in the way, which is no leave."""
    if outcome.entry == "no":
        sentences = [pen.catalog.sentence(m, pen.lengths) for m in outcome.missing]
        return fit(
            [pen.say("entry-no", trench=outcome.trench).lstrip(": "), *sentences], pen.say("more-missing")
        )
    until = pen.time(outcome.until) if outcome.until else "?"
    if outcome.allowed_by:
        text = pen.say("entry-allowed", trench=outcome.trench, name=outcome.allowed_by, until=until)
    else:
        text = pen.say("entry-may", trench=outcome.trench, until=until)
    return fit([text, *pen.cautions(outcome.cautions)])


def before_entry(pen: ReplyWriter, missing: Sequence[Missing]) -> list[str]:
    """What still stands in the way, after a report: in words where it is little, else only named."""
    if not missing:
        return [pen.say("nothing-missing")]
    if len(missing) > MOST_SENTENCES:
        return [pen.say("still-missing", missing=pen.missing(missing))]
    sentences = " ".join(pen.catalog.sentence(m, pen.lengths) for m in missing)
    return [pen.say("still-missing", missing=sentences.removesuffix("."))]


def listed(pen: ReplyWriter, lines: Sequence[str]) -> str:
    """As many lines as three segments hold, and how many more there are."""
    for kept in range(len(lines), 0, -1):
        left = len(lines) - kept
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
            pressure=f"{outcome.pressure_kpa:.1f} kPa",
            by=pen.catalog.term(outcome.pressure_by),
        ),
        pen.say(
            "why-strut",
            load=f"{outcome.strut.load_kn:.1f} kN",
            capacity=f"{outcome.strut.capacity_kn:.1f} kN",
        ),
        pen.say(
            "holds",
            depth=pen.length(holds.depth_m, "upper"),
            width=pen.length(holds.width_m, "upper"),
            soil=pen.soil(ground),
        ),
        *pen.cautions(outcome.cautions),
    ]


def sketch(pen: ReplyWriter, ref: str, plan: Sized) -> list[str]:
    """The plan in words: for each level how deep the struts are, and where each unit stands."""
    lines = [pen.say("sketch", trench=ref)]
    for level in plan.levels:
        depth = pen.length(level.depth_m)
        if level.positions_m is None:
            every = pen.length(plan.spacing_m, "upper")
            lines.append(pen.say("sketch-every", depth=depth, spacing=every))
        else:
            places = ", ".join(pen.told(at) for at in level.positions_m)
            lines.append(pen.say("sketch-level", depth=depth, places=places))
    return [*lines, *turned(pen, plan)]


def to(number: str, text: str) -> Reply:
    return Reply(to=number, text=text)
