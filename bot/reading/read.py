"""Text to reading: the stages in order, each in a file of its own.

    tokens -> figures -> phrases -> facts, pressures, services, lengths, soil -> purpose and questions

Pure: no clock, no I/O; never raises on any text; time linear in the length of the text.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any, get_args

from bot.language.lexicon import Language, Lexicon
from bot.language.schema import Statement
from bot.language.tokens import LONGEST, LONGEST_TEXT, TAIL, Token, pictures, references, tokenise
from bot.message import Heard, LengthUnit, Manner, PressureUnit
from bot.reading.accounted import left_over
from bot.reading.events.statements import LOOSE
from bot.reading.events.unit_counts import ROWS, by_rows, of_every, read_on, rows_told, units
from bot.reading.intent import purpose
from bot.reading.intent.references import AllowingText, Named, allowance, named
from bot.reading.intent.to_question import Question, answer, service_asked
from bot.reading.intent.two_languages import merged
from bot.reading.intent.verdict import air_told, not_so, seems, verdict
from bot.reading.intent.yes_no import answer_word
from bot.reading.measures import air, beside, lengths, pressures, ranges, services, soil
from bot.reading.text.prepare import PreparedText, set_elsewhere_aside, text_of
from bot.reading.text.spans import Span
from bot.reading.told_clause import HEAP
from knowledge.names import HAZARDS
from knowledge.reading import (
    ASKED,
    CHOICES,
    LENGTHS,
    NEEDED,
    YES_NO,
    Air,
    Details,
    How,
    Reading,
    UnitsSet,
    details_of,
)

ORDER = tuple(ASKED)
TOLD = ("seen", "done", "undone")
BESIDE = ("width_m", "length_m")  # a depth told with one of these is the trench's
OF_TRENCH = frozenset(name for name, field in ASKED.items() if field.of_trench)
SIZES = OF_TRENCH | {"soil"}
TWO_OF = frozenset(("end_t", "face_t", "edge_t", "side", "level", "both_rows"))  # a trench has two of each
WORKS = frozenset(("plant_t", "support_t", "ladder", "gauge_t", "face_t"))
SIZED = frozenset(("depth", "width", "length"))
GASES = frozenset(air.NAMED)
GROUND = frozenset(("soil.label", "soil.type"))
BESIDE_DUG = frozenset(("ladder", "units set", "air test"))  # done in a trench that is dug
BESIDE_HEAP = frozenset(("dug", "ladder", "unit_t", "level", "end_t", "plant_t", "service", "flaw", "count"))
BAD_FACE = ("ravelling", "running")
SAME_M = 0.01  # two figures of one length, in metres and in feet, differ by their rounding
SHOWN: dict[str, LengthUnit] = {"m": "m", "mm": "mm", "cm": "cm", "ft": "ft", "inch": "in"}
PRESSURES: dict[str, PressureUnit] = {"bar": "bar", "psi": "psi", "MPa": "MPa"}


def read(
    text: str,
    words: Lexicon,
    asked: tuple[str, ...] = (),
    earlier: str = "",
    language: str = "en",
    own: frozenset[str] = frozenset(),
    crew: frozenset[str] = frozenset(),
) -> Heard:
    """What a message says, and the manner it says it in.

    `asked` names the fields the sender was last asked about, the most wanted first, so that a bare "1.6"
    or "firm" answers them; `earlier` is the text that was asked about, for answers such as "the first";
    `language` is that of the conversation so far, for messages whose words do not tell; `own` are the names
    of the sender and their site in lower case, `crew` those of the others on it.
    """
    tokens = tokenise(text)
    if len(text) > LONGEST_TEXT or len(tokens) > LONGEST:
        return _with_pictures(_long(tokens, words, language, text), text)
    telling = [token.text for token in tokens if token.kind == "word" and token.text not in own | crew]
    spoken = words.languages_of(_no_clock(telling, tokens), language, text)
    heard = []
    for one in spoken:
        message = text_of(tokens, one)
        message.own, message.crew = own, crew
        heard.append(_heard(message, _question(asked, earlier, one)))
    return _with_pictures(_not_turned(merged(heard), tokens, language), text)


def _not_turned(heard: Heard, tokens: list[Token], language: str) -> Heard:
    """One stray word that says nothing turns no conversation to another language."""
    said = {token.text for token in tokens if token.kind != "mark" and len(token.text) > 1}
    tells = heard.reading.purpose not in ("unclear", "size") or details_of(heard.reading) != Details()
    if len(said) > 1 or tells:
        return heard
    return heard.model_copy(update={"manner": heard.manner.model_copy(update={"language": language})})


def _no_clock(telling: list[str], tokens: list[Token]) -> list[str]:
    """The words that tell a language: "7:45 am" is of none."""
    halves = [
        two.text for one, two in pairwise(tokens) if one.text[-1:].isdigit() and two.text in ("am", "pm")
    ]
    return [word for word in telling if word not in halves] if halves else telling


def _long(tokens: list[Token], words: Lexicon, language: str, text: str) -> Heard:
    """A message too long to be acted on, in pieces that overlap: danger counts wherever in it it stands."""
    heard = []
    for at in range(0, max(1, len(tokens) - TAIL), LONGEST - TAIL):
        piece = tokens[at : at + LONGEST]
        said = (token.text for token in piece if token.kind == "word")
        spoken = words.languages_of(said, language, " ".join(token.raw for token in piece))
        heard.append(merged([_dangers(text_of(piece, one)) for one in spoken]))
    hazards = {hazard for each in heard for hazard in each.reading.hazards}
    worst = next((each for each in heard if each.reading.hazards), heard[0])
    named = references(text, len(text)) if hazards else []
    told = {
        "hazards": tuple(sorted(hazards, key=HAZARDS.index)),
        "purpose": "report" if hazards else "unclear",
        "trench": named[0] if len(named) == 1 else None,
        "questions": ("trench",) if len(named) > 1 else (),
    }
    return worst.model_copy(update={"reading": worst.reading.model_copy(update=told)})


def _with_pictures(heard: Heard, text: str) -> Heard:
    """An emoji says what no word says: no text that has one is whole, but for the ticks and thumbs up."""
    odd = pictures(text)
    if not odd:
        return heard
    reading = heard.reading
    left = {
        "left_over": (*reading.left_over, *odd),
        "done": (),
        "proposed": (*reading.done, *reading.proposed),
    }
    return heard.model_copy(update={"reading": reading.model_copy(update=left)})


def _question(asked: tuple[str, ...], earlier: str, language: Language) -> Question:
    if not (asked and earlier):
        return Question(asked)
    return Question(asked, text_of(tokenise(earlier[:LONGEST_TEXT])[:LONGEST], language))


def _dangers(text: PreparedText) -> Heard:
    """A message too long to be acted on: only what is dangerous in it."""
    hazards = _hazards(text, sizing=False)
    reading = Reading.model_validate(
        {"purpose": "report" if hazards else "unclear", "hazards": hazards, "unread": _unread(text)}
    )
    return Heard(reading=reading, manner=Manner(language=text.language.code))


@dataclass(slots=True)
class _Parts:
    """What the stages found in one message."""

    trenches: Named
    allowance: AllowingText
    air: Air | None
    gauges: pressures.PressuresRead
    units_set: UnitsSet | None
    stands: beside.BesideTold
    met: services.Met
    measured: lengths.MeasuredLengths
    ground: soil.SoilTold


def _parts(text: PreparedText, question: Question) -> _Parts:
    """The stages that read figures, each taking its own before the next; idle ones are passed."""
    present, pieces = text.present, text.pieces
    trenches = named(text)
    allowed = allowance(text)
    tested = air.read(pieces) if text.figures and not present.isdisjoint(air.NAMED) else None
    gauges = pressures.read(pieces, present) if text.figures else pressures.PressuresRead()
    counted = text.figures and ("set" in present or present.issuperset(ROWS))
    idle = present.isdisjoint(("unit_t", "level")) and not counted
    set_ = None if idle else by_rows(pieces, units(text.clauses, text.language, text.found))
    set_ = rows_told(pieces, set_, text.language)
    of_all = len(gauges.gauges) == 1 or (len(gauges.gauges) == 2 and gauges.spread)
    if of_all and gauges.gauges[0].unit is None and not gauges.doubt:
        gauges.of_every = set_ is None and len(gauges.gauges) == 1 and of_every(pieces, text.language)
        gauges.read_on = read_on(pieces, set_)
    if text.figures:
        ranges.merge(pieces, text.language.small)
    stands = beside.told(pieces, text.language, text.imperial)
    asked_of = service_asked(question)
    if stands.edge_of is not None and trenches.aside and not trenches.trenches:
        trenches.trenches.append(stands.edge_of)  # "13 t digger 3 m from T7": it is T7 that is told of
    none_met = asked_of is None and present.isdisjoint(("line", "water_t"))
    met = services.Met() if none_met else services.met(pieces, text.language, text.imperial, asked_of)
    if stands.things:
        _of_neighbour(text)
    set_elsewhere_aside(text)
    measured = (
        lengths.measure(pieces, text.language, text.imperial) if text.figures else lengths.MeasuredLengths()
    )
    _dug(text, measured)
    _heap(text, measured)
    _twice(text, measured)
    return _Parts(
        trenches, allowed, tested, gauges, set_, stands, met, measured, soil.told(pieces, text.language)
    )


def _face_left(text: PreparedText) -> bool:
    """Whether a word for how a bad face behaves stands in a clause of no other thing, and tells nothing."""
    for clause in text.clauses:
        said = [one for one in clause.pieces if any(_of_face(fact, BAD_FACE) for fact in one.tags.facts)]
        if any(one.figure is not None or one.used for one in clause.pieces):
            continue
        if not said or any(one.told or one.used or one.state or one.tags.label for one in said):
            continue
        things = [one for one in clause.pieces if one.tags.thing and one not in said]
        if all(one.kind == "ref" or not {"face_t", "side", "grains"}.isdisjoint(one.tags) for one in things):
            return True
    return False


def _of_face(fact: Statement, among: tuple[str, ...] = CHOICES["face"]) -> bool:
    return any(said.group == "face" and said.what in among for said in fact.means)


def _of_neighbour(text: PreparedText) -> None:
    """ "brick wall stands 900 mm off": what is said of a neighbour's wall is not said of the face."""
    told = [piece for piece in text.pieces if piece.told and any(_of_face(fact) for fact in piece.tags.facts)]
    if told and all(piece.used for piece in told):
        kept = [said for said in text.found.meanings if said.group != "face"]
        text.found.meanings[:] = kept


def _dug(text: PreparedText, measured: lengths.MeasuredLengths) -> None:
    """ "dug right out, 1.6 deep", "formation reached, 1600": with a word that it is dug, or something
    else reported beside it, a depth told alone is how deep it is dug."""
    if (
        measured.dug
        or SIZED & {*measured.values, *measured.doubts} - {"depth"}
        or not text.present.isdisjoint(GROUND)
    ):
        return
    said = any("dug" in piece.tags and not piece.state for piece in text.pieces)
    if said and not measured.values and not measured.doubts:
        _loose_depth(text, measured)
    alone = measured.values.keys() & SIZED == {"depth"} and "depth" not in measured.doubts
    if alone and (said or BESIDE_DUG & {*text.found.of("done")}):
        measured.dug = True
        for piece in text.pieces:
            piece.dug = piece.dug or (piece.figure is not None and piece.used and not piece.aside)


def _heap(text: PreparedText, measured: lengths.MeasuredLengths) -> None:
    """ "muck is kept 1.5 m off the edge": the one length of a text that tells of the heap and of no other
    thing is how far off it lies."""
    if text.present.isdisjoint(HEAP) or "spoil" in {*measured.values, *measured.doubts}:
        return
    labels = {piece.tags.label[0] for piece in text.pieces if piece.tags.label is not None}
    if labels - {"spoil", "other"} or not text.present.isdisjoint(BESIDE_HEAP):
        return
    figures = [piece for piece in text.pieces if piece.figure is not None and not piece.aside]
    if len(figures) != 1 or figures[0].used or figures[0].state or figures[0] not in measured.loose:
        return
    figure = figures[0].figure
    assert figure is not None
    if figure.unit is None and figure.whole:
        return  # a count as like as not
    value = lengths.metres(figure, "spoil", text.imperial)
    if value is not None:
        measured.values["spoil"] = value
        for piece in text.pieces:
            piece.used = piece.used or piece is figures[0] or not HEAP.isdisjoint(piece.tags)


def _twice(text: PreparedText, measured: lengths.MeasuredLengths) -> None:
    """ "dug to 5 ft 3 (1.6 m)": a depth told once more, in metres and in feet."""
    depth = measured.values.get("depth")
    for piece in measured.loose if depth is not None and "depth" not in measured.doubts else ():
        if piece.figure is not None and piece.figure.unit is not None and _like_length(piece):
            again = lengths.metres(piece.figure, "depth", text.imperial)
            if again is not None and depth is not None and abs(again - depth) <= SAME_M:
                piece.used = True


def _loose_depth(text: PreparedText, measured: lengths.MeasuredLengths) -> None:
    """The figures that no label claims, where all are one believable depth: "5 ft 3 in / 1.6 m"."""
    figures = [(piece, piece.figure) for piece in measured.loose if piece.figure is not None]
    lengths_only = [(piece, figure) for piece, figure in figures if _like_length(piece) and not piece.state]
    depths = [lengths.metres(figure, "depth", text.imperial) for _, figure in lengths_only]
    told = {depth for depth in depths if depth is not None}
    if len(figures) != len(depths) or None in depths or not told or max(told) - min(told) > SAME_M:
        return
    if any(figure.unit is None and figure.whole and figure.value < 10 for _, figure in lengths_only):
        return  # a count as like as not
    measured.values["depth"] = max(told)
    for piece, _ in lengths_only:
        piece.used = True


def _heard(text: PreparedText, question: Question) -> Heard:
    """The reading of one message in one language, with the sender's manner."""
    parts = _parts(text, question)
    values, doubts = _values(text, parts, question)
    details = bool(SIZES & (values.keys() | doubts)) or parts.ground.doubt
    sized = bool(OF_TRENCH & (values.keys() | doubts)) or ("soil" in values and "face" not in values)
    told = sized or not {"water", "face"}.isdisjoint(question.asked)  # a detail, not an event
    hazards = _hazards(text, sizing=told and not parts.measured.dug)
    if parts.gauges.fell and "pressure loss" not in hazards:
        hazards.append("pressure loss")
    loose = [piece for piece in parts.measured.loose if _like_length(piece)]
    evidence = _evidence(text, parts, question, values, details, loose)
    evidence.hazard = bool(hazards)
    evidence.reports = evidence.reports or bool(doubts)
    aim = purpose.purpose(text.clauses, evidence)
    doubtful = set(doubts)
    if (
        aim == "size"
        and (deepest := values.get("depth_m"))
        and any(_deeper(piece, deepest, text.imperial) and not _named(text, piece) for piece in loose)
    ):
        doubts.add("depth_m")  # "was 1.6 deep now 2.0": nothing says what the greater figure is
        doubtful.add("depth_m")
    if aim == "size" and "face" not in values and _face_left(text):
        doubts.add("face")  # "loose sand, running in at the toe"
    if aim == "size":
        untold = NEEDED - values.keys()
        doubtful |= untold & {"depth_m", "width_m"} if loose else set()
        doubts |= set() if question.asked else untold
    if (
        question.asked
        and not hazards
        and (aim in ("size", "unclear") or (aim == "report" and evidence.answers))
    ):
        doubts |= _unanswered(question, values, parts)
    if parts.ground.doubt and not (aim == "size" or "soil" in values):
        doubts.discard("soil")
    if doubts:
        kept = set() if "trench" in doubts else values.keys() - (doubts - {"soil"})
        values = {name: value for name, value in values.items() if name in kept}
    reading = _reading(text, parts, aim, values, doubts, hazards)
    manner = Manner(
        language=text.language.code,
        lengths=SHOWN.get(parts.measured.unit or ""),
        pressure=PRESSURES.get(parts.gauges.unit or ""),
        taken=tuple(parts.ground.taken),
    )
    return Heard(
        reading=reading, manner=manner, doubtful=tuple(name for name in reading.questions if name in doubtful)
    )


def _values(text: PreparedText, parts: _Parts, question: Question) -> tuple[dict[str, Any], set[str]]:
    """The trench details by field, and the fields that have two readings."""
    measured, ground = parts.measured, parts.ground
    values = answer(text, question, measured, ground) if question.asked else {}
    for name, value in measured.values.items():
        if name not in measured.doubts:
            values.setdefault(LENGTHS[name], value)
    if ground.soil is not None:
        values["soil"] = ground.soil
    doubts = {LENGTHS[name] for name in measured.doubts}
    if parts.met.leads and not measured.dug and "depth_m" in values and values.keys().isdisjoint(BESIDE):
        doubts.add("depth_m")  # "gas at 2.1, depth 0.6": the pipe's depth, or the trench's?
    _facts(text, values, doubts)
    values |= _beside(parts.stands, values, doubts)
    for name, doubt in (
        ("soil", ground.doubt),
        ("gauges", parts.gauges.doubt),
        ("services", parts.met.doubt),
        ("water", parts.met.water),
    ):
        if doubt:
            doubts.add(name)
    several = len(parts.trenches.trenches) > 1 and parts.trenches.same_as is None
    elsewhere = parts.trenches.aside and not parts.trenches.trenches
    unread = parts.trenches.unread or any(not piece.used or piece.aside for piece in parts.trenches.numbers)
    if several or unread or (elsewhere and (parts.gauges.gauges or parts.units_set or text.found.of("done"))):
        doubts.add("trench")  # "after T3 inspection done": which is meant?
    return values, doubts


def _deeper(piece: Span, depth: float, imperial: bool) -> bool:
    """Whether a figure that nothing claims could be a depth greater than the one told."""
    figure = piece.figure
    if figure is None or (figure.whole and figure.unit is None):
        return False
    value = lengths.metres(figure, "depth", imperial)
    return value is not None and value > depth


def _named(text: PreparedText, piece: Span) -> bool:
    """Whether a word of no known meaning stands right before a figure: "gabion 2.2 m". The figure is the
    gabion's, and is said to be unread."""
    at = text.pieces.index(piece)
    before = text.pieces[at - 1] if at else None
    unknown = before is not None and before.kind == "word" and not before.tags
    return unknown and before is not None and before.text not in text.language.words


def _facts(text: PreparedText, values: dict[str, Any], doubts: set[str]) -> None:
    """Water, face, ends, traffic and the like, as the facts say; two values are asked about."""
    found = text.found
    if not found.meanings:
        return
    for water in sorted(found.of("water"), key=CHOICES["water"].index):
        values["water"] = water  # the wettest
    for name in CHOICES.keys() - {"water"}:
        said = found.of(name)
        if len(said) == 1:
            values[name] = said[0] == "yes" if CHOICES[name] == YES_NO else said[0]
        elif said and name in ASKED and not (name == "ends" and text.by_end):
            doubts.add(name)
    doubts.update(name for name in found.of("unclear") if name not in values)


def _hazards(text: PreparedText, *, sizing: bool) -> list[str]:
    """The hazards named. What is noticed of water or face is a detail where a trench is being sized."""
    hazards = text.found.of("hazard")
    return hazards if sizing else list(dict.fromkeys([*hazards, *text.found.of("noticed")]))


def _evidence(
    text: PreparedText,
    parts: _Parts,
    question: Question,
    values: dict[str, Any],
    details: bool,
    loose: list[Span],
) -> purpose.Evidence:
    """What the purpose turns on."""
    dug_only = parts.measured.dug and not (SIZES - {"depth_m", "soil"}) & values.keys()
    details = details and not dug_only
    state = bool(question.asked) and parts.ground.state_only is not None
    reports = parts.gauges.gauges or parts.units_set is not None or values or parts.met.services or parts.air
    told = any(text.found.of(group) for group in TOLD)
    acts = parts.gauges.gauges or parts.units_set or text.found.of("done") or text.found.of("undone")
    return purpose.Evidence(
        allowed=parts.allowance.allowed,
        stop=purpose.stops(text.clauses),
        entry="entry" in text.found.of("purpose"),
        status="status" in text.found.of("purpose"),
        sizes=details or state or _joined(text.pieces, loose),
        details=details,
        dug=parts.measured.dug,
        reports=bool(reports) or told,
        inspected="inspection" in text.found.of("done"),
        settled=bool({*text.found.of("done")} - {"backfill", "units out"}),
        answers=bool(question.asked) and "gauges" not in question.asked and not acts,
    )


def _like_length(piece: Span) -> bool:
    figure = piece.figure
    return figure is not None and figure.kind in ("length", "bare") and not (piece.used or figure.doubt)


def _joined(pieces: list[Span], loose: list[Span]) -> bool:
    """ "1.6 x 0.9": figures joined as the sizes of a trench are."""
    return len(loose) > 1 and any(
        one in loose and two in loose and "times" in between.tags
        for one, between, two in zip(pieces, pieces[1:], pieces[2:], strict=False)
    )


def _unanswered(question: Question, values: dict[str, Any], parts: _Parts) -> set[str]:
    """What was asked and is still untold."""
    told = set(values)
    if parts.trenches.trenches:
        told.add("trench")
    if parts.gauges.gauges:
        told.add("gauges")
    if parts.met.services:
        told.add("services")
    return set(question.asked) & set(ORDER) - told


def _reading(
    text: PreparedText, parts: _Parts, aim: str, values: dict[str, Any], doubts: set[str], hazards: list[str]
) -> Reading:
    """The parts as one reading; what is asked about is left out."""
    found, trenches = text.found, parts.trenches.trenches
    one = "trench" not in doubts  # else of which of the two?
    undone = found.of("undone")
    done = [what for what in found.of("done") if what not in undone] if one else []  # told both: not done
    left = left_over(text, trenches[0] if trenches else None)
    if parts.air is not None and parts.air.oxygen_pct is not None and "air test" not in (*done, *undone):
        done.extend(["air test"] if one and _measured(text) else [])
    if "air test" in done and parts.air is None and not air_told(text):
        done.remove("air test")  # done, but what did it find?
        doubts.add("air")
    judged = verdict(text) if "inspection" in done else None
    if judged == "not safe":
        done.remove("inspection")
    word = answer_word(text) if aim == "unclear" or not (values or done or undone or hazards) else None
    spoken = {*done, *undone, *_told_by_value(values)}
    whole = {
        **values,
        "purpose": "answer" if word else aim,
        "trench": trenches[0] if trenches and one else None,
        "services": None if parts.met.doubt or not one else parts.met.services or None,
        "gauges": None if parts.gauges.doubt or not one else parts.gauges.gauges or None,
        "units_set": parts.units_set if one else None,
        "read_on": parts.gauges.read_on if one and not parts.gauges.doubt else None,
        "of_every": (one and parts.gauges.of_every and not parts.gauges.doubt) or None,
        "spread": (one and parts.gauges.spread and not parts.gauges.doubt) or None,
        "air": parts.air if one else None,
        "done": (not left and done) or None,
        "proposed": (left and _seem(text, aim, done, undone, spoken)) or None,
        "verdict": judged,
        "answer": word,
        "not_so": not_so(text, spoken) if aim in ("report", "unclear") and left and not hazards else None,
        "undone": undone or None,
        "hazards": sorted(hazards, key=HAZARDS.index) or None,
        "questions": sorted(doubts, key=ORDER.index) or None,
        "unread": _unread(text) or None,
        "surcharge_kpa": parts.gauges.surcharge_kpa,
        "how": next((how for how in get_args(How) if aim == "steps" and f"how.{how}" in text.present), None),
        "allow": parts.allowance.allowed or None,
        "code": parts.allowance.code,
        "again": (aim == "unclear" and _again(text)) or None,
        "same_as": parts.trenches.same_as,
        "left_over": () if word else left,
        "asks": any(clause.question for clause in text.clauses) or None,
        "of_both": any(_of_both(text.pieces, at) for at in range(len(text.pieces))) or None,
        "of_works": any(_of_works(piece) for piece in text.pieces) or None,
        "denies": any("deny" in piece.tags for piece in text.pieces) or None,
        "site_words": tuple(piece.text for piece in text.pieces if _of_site(piece)),
    }
    return Reading.model_validate({name: value for name, value in whole.items() if value is not None})


def _beside(stands: beside.BesideTold, values: dict[str, Any], doubts: set[str]) -> dict[str, Any]:
    """What stands beside the trench. A weight without its distance is of no machine at the edge."""
    told: dict[str, Any] = {}
    if stands.things:
        told["beside"] = tuple(stands.things)
    if stands.traffic_m is not None and values.get("traffic") is not False and "traffic" not in doubts:
        told |= {"traffic": True, "traffic_m": stands.traffic_m}
    if stands.plant_t is not None and "plant_m" in values:
        told["plant_t"] = stands.plant_t
    if stands.pit and SIZES & values.keys():
        told["pit"] = True
    if stands.junction:
        told["junction"] = True
    if stands.overhang and SIZES & values.keys() and "overhang_m" not in values:
        doubts.add("overhang_m")  # how far?
    if stands.no_slab and "pavement_m" not in values:
        told["pavement_m"] = 0.0
    return told


def _of_site(piece: Span) -> bool:
    """Whether a word is of a trench: people, places and references are of anything."""
    return piece.tags.said or (piece.tags.thing and not LOOSE.issuperset(piece.tags))


def _of_both(pieces: list[Span], at: int) -> bool:
    """Whether "both" stands here, and is not said of what every trench has two of: its ends, sides, rows."""
    if "both" not in pieces[at].tags or any(piece.kind == "ref" for piece in pieces):
        return False
    return all(TWO_OF.isdisjoint(piece.tags) for piece in pieces[at + 1 : at + 3])


def _of_works(piece: Span) -> bool:
    """Whether a machine, a shore, a ladder, a gauge or a face is named; of cars people talk by the way."""
    named = not WORKS.isdisjoint(piece.tags) and "car_t" not in piece.tags
    return named and len(piece.text) > 1  # "u" is you as well


def _measured(text: PreparedText) -> bool:
    """Whether the figures of gases are reported, and not asked for, planned, denied or of another day."""
    for clause in text.clauses:
        if all(not {*GASES, "none"}.isdisjoint(piece.tags) or piece.kind == "ref" for piece in clause.pieces):
            continue  # "CO none"
        if any(not GASES.isdisjoint(piece.tags) for piece in clause.pieces) and (
            clause.question
            or clause.limited
            or any(piece.state or "elsewhere" in piece.tags for piece in clause.pieces)
        ):
            return False
    return True


def _seem(text: PreparedText, aim: str, done: list[str], undone: list[str], spoken: set[str]) -> list[str]:
    """What seems meant where words are left over: what is reported, and what is spoken of as if it were so.

    Ends are battered or supported: spoken of as neither, nothing can be asked with one YES.
    """
    if aim not in ("report", "unclear") or text.found.of("hazard") or text.found.of("noticed"):
        return done
    denied = {*undone, *not_so(text, spoken)}
    both = {"ends battered", "ends supported"}
    meant = [what for what in seems(text) if what not in denied]
    if "air test" in meant and "air test" not in done and not air_told(text):
        meant.remove("air test")
    meant = [what for what in meant if what not in both or both - {what} - {*meant}]
    return list(dict.fromkeys([*done, *meant]))


def _told_by_value(values: dict[str, Any]) -> set[str]:
    """What is reported by a value and not by a word."""
    return {"spoil back"} if "spoil_m" in values else set()


def _again(text: PreparedText) -> bool:
    """ "again", or nothing but a question mark."""
    content = [piece for piece in text.pieces if piece.kind != "mark"]
    if not content:
        return any(piece.text == "?" for piece in text.pieces)
    told = [piece for piece in content if piece.tags or piece.text not in text.language.small]
    return "again" in text.present and all("again" in piece.tags or piece.kind == "ref" for piece in told)


def _unread(text: PreparedText) -> list[str]:
    """Words with content that were not used, each once."""
    known = text.language.words
    left = [
        piece.raw
        for piece in text.pieces
        if not piece.used
        and (
            piece.figure.kind != "ordinal"
            if piece.figure is not None
            else piece.kind == "word"
            and not (piece.tags or piece.text in text.own)
            and (piece.text not in known or piece.text in text.language.things)
        )
    ]
    return list(dict.fromkeys(left))[:40]
