"""What a language file must hold in its section `reading`: the models it is validated by."""

from typing import TYPE_CHECKING, Annotated, Literal, get_args

from pydantic import BeforeValidator, Field, model_validator

from bot.language.said import Said, said
from knowledge.reading import LENGTHS, MOVES, BesideWhat, How, Purpose, SoilKind, SoilState, What
from knowledge.sourced import DataRow

BESIDE = ("surcharge", "other")  # labels of what is no length of the reading
if TYPE_CHECKING:
    Dimension = str
else:
    Dimension = Literal[(*LENGTHS, *BESIDE)]
REF = "ref"  # the meaning of a trench reference in a fact
LINE = "line"  # the meaning that every pipe and cable has beside its own
PURPOSES = tuple(
    one for one in get_args(Purpose) if one not in ("report", "answer", "chat", "unclear", *MOVES)
)  # are asked for


class Label(DataRow):
    """Names of a dimension: those that mostly stand before their figure, those after, short ones."""

    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    letter: tuple[str, ...] = ()


class NumberWords(DataRow):
    """Spoken numbers."""

    small: dict[str, int]
    tens: dict[str, int]
    hundred: tuple[str, ...]
    thousand: tuple[str, ...]
    point: tuple[str, ...]
    zero: tuple[str, ...] = ()
    half: tuple[str, ...]
    quarter: tuple[str, ...]
    one: tuple[str, ...]
    joined: tuple[str, ...]
    ordinal: dict[str, int]
    misheard: tuple[str, ...] = ()  # what dictation writes for a number: "too point four"


class Units(DataRow):
    """Unit words as crews write them. `other` are units of what is no length: weights, times."""

    m: tuple[str, ...]
    mm: tuple[str, ...]
    cm: tuple[str, ...]
    ft: tuple[str, ...]
    inch: tuple[str, ...]
    bar: tuple[str, ...]
    psi: tuple[str, ...]
    MPa: tuple[str, ...]
    kPa: tuple[str, ...]  # noqa: N815 - the sign of the unit
    other: tuple[str, ...]


class SoilWords(DataRow):
    """Words for soil. `mixed` are adjectives of a second constituent (sandy); `taken` local words."""

    kinds: dict[SoilKind, tuple[str, ...]]
    states: dict[SoilState, tuple[str, ...]]
    taken: dict[SoilKind, tuple[str, ...]] = Field(default_factory=dict)
    mixed: dict[SoilKind, tuple[str, ...]] = Field(default_factory=dict)
    type: tuple[str, ...]
    label: tuple[str, ...]


Meant = Annotated[Said, BeforeValidator(said)]


class Statement(DataRow):
    """What is meant where `state` is said of `thing` (or either alone, if only one is given).

    `means` and `denied` are written as "done ladder", "hazard crack", "water dry": see `said.py`.
    """

    thing: tuple[str, ...] = ()
    state: tuple[str, ...] = ()
    after: bool = False  # the state must follow its thing closely
    means: tuple[Meant, ...] = ()
    denied: tuple[Meant, ...] = ()


class BesideWords(DataRow):
    """Words for what stands beside the trench and where; they mean nothing anywhere else.

    `near` puts a thing beside the trench, `away` makes the figure before it a distance, `from` joins a figure
    to the thing after it, `edge` is what is measured from. `plain` are phrases that hold such a word and are
    none. `stands` are the verbs between a thing and where it is.
    """

    kinds: dict[BesideWhat, tuple[str, ...]]
    near: tuple[str, ...]
    away: tuple[str, ...]
    from_: tuple[str, ...] = Field(alias="from")
    edge: tuple[str, ...]
    stands: tuple[str, ...] = ()
    plain: tuple[str, ...] = ()
    streets: tuple[str, ...]
    street_first: bool = False  # whether "street" stands before its name and never after
    pit: tuple[str, ...]
    junction: tuple[str, ...]
    junction_at: tuple[str, ...]  # only before a distance: a corner without one may be that of two streets
    overhang: tuple[str, ...]
    no_slab: tuple[str, ...]
    tonnes: tuple[str, ...]
    tonners: tuple[str, ...] = ()


class StillToDo(DataRow):
    """A form of the verb by which something is still to be done, though it looks like the participle of what
    is done: one of `before`, and right after it a known word with one of `endings`, or one of `words`
    ("de astupat")."""

    before: tuple[str, ...]
    endings: tuple[str, ...]
    words: tuple[str, ...]


class ShortFor(DataRow):
    """How a word is typed or said for another where the words beside it leave no other reading: "2 go", "in
    her". `after` and `before` are the words of which one must stand there; "" is the end of a clause, and
    "{length}" a length, "{consonant}" a word that begins with one, for "an" is no article there. With neither
    it stands for it anywhere."""

    said: tuple[str, ...]
    means: str
    after: tuple[str, ...] = ()
    before: tuple[str, ...] = ()


WHOLE_TEXTS = (
    "not_at", "moved", "runs_of", "run_filled", "carried", "arrived", "changed", "damaged", "cleared",
    "replaced", "in_the_ground", "van", "heads_in", "heads_out", "all_out", "strip", "level_out", "place",
    "note", "parked", "parked_bare", "guarded", "fenced", "intruders", "handover", "handed", "take", "coming",
    "due", "merge", "join", "not_yet_filled",
)  # fmt: skip
OPTIONAL_TEXTS = ("asks_entry", "asks_entry_plainly")  # whole questions, where a language has them listed


class MoveWords(DataRow):
    """How crews text the moves of a job. Each pattern is one whole text, see `bot/language/patterns.py`.

    `sorry` are phrases by which somebody who named the wrong hole may begin, `at` stands before a time said,
    `till` before one that something lasts to, `each` between listed trenches; `days` are the names of the
    days from Monday.
    """

    texts: dict[str, tuple[str, ...]]
    slots: dict[str, tuple[str, ...]] = Field(default_factory=dict)  # what may stand in a slot of that name
    sorry: tuple[str, ...]
    at: tuple[str, ...]
    till: tuple[str, ...]
    each: tuple[str, ...]
    days: tuple[tuple[str, ...], ...]

    @model_validator(mode="after")
    def _whole(self) -> "MoveWords":
        if odd := set(WHOLE_TEXTS) ^ (self.texts.keys() - {*OPTIONAL_TEXTS}):
            raise ValueError(f"texts.{min(odd)}: needed and not there, or nothing asks for it")
        if len(self.days) != 7:
            raise ValueError("days: seven, from Monday")
        return self


Subject = Literal[
    "entry", "ladder", "spoil", "ends", "air", "services", "water", "inspection", "units", "dug"
]  # fmt: skip
SUBJECTS: dict[Subject, tuple[str, ...]] = {  # what is told, by the meanings that tell of it
    "entry": ("entry",),
    "ladder": ("ladder",),
    "spoil": ("spoil_t",),
    "ends": ("end_t", "ends_battered", "ends_supported", "end_support_t"),
    "air": ("air_t", "air_tested", "oxygen"),
    "services": ("service", "services_located", "located"),
    "water": ("water_t", "dry"),
    "inspection": ("inspected", "inspection"),
    "units": ("unit_t",),
    "dug": ("dug",),
}


class Vocabulary(DataRow):
    """The section `reading` of a language file."""

    name: str
    reviewed: str  # who read it over as a native speaker; "" where nobody has yet
    letters: str = ""  # letters that only this language uses
    numbers: NumberWords
    units: Units
    labels: dict[Dimension, Label]
    ground: SoilWords
    services: dict[What, tuple[str, ...]]
    beside: BesideWords
    purposes: dict[str, tuple[str, ...]]
    moves: MoveWords
    how: dict[How, tuple[str, ...]]  # how a unit is made ready, set, taken out: each asks for the steps too
    say: dict[str, tuple[str, ...]]
    facts: tuple[Statement, ...] = ()  # none: those of English, which name meanings and no words
    adjectives_follow: bool = False  # as in "arcilla firme"
    abbreviated: tuple[str, ...] = ()  # words that a full stop right after them only shortens: "gł."
    small: tuple[str, ...]  # words of no content
    skip: tuple[str, ...]  # words that may stand inside a phrase
    companions: dict[Subject, tuple[str, ...]] = Field(
        default_factory=dict
    )  # words and phrases that may stand beside what is said of a subject
    never: tuple[str, ...] = ()  # words that none of the lists of what changes nothing may hold
    every_gauge: tuple[str, ...] = ()  # whole texts by which one pressure is every unit's: "all gauges {bar}"
    fillers: tuple[str, ...] = ()  # words that change nothing of a report: no other may be left over in one
    manners: tuple[
        str, ...
    ] = ()  # how, by whom and with what a thing was done: they change nothing of any report
    places: tuple[str, ...] = ()  # where in the trench it is so: only after one of `before_places`
    still_to_do: StillToDo | None = None
    before_places: tuple[str, ...] = ()  # prepositions of a place, a reference or a figure that was read
    nothing_of: tuple[str, ...] = ()  # what "no" or "nothing" of may stand beside any report: "leaks", "else"
    asides: tuple[str, ...] = ()  # phrases that change nothing wherever they stand: "as planned", "i confirm"
    unfinished: tuple[str, ...] = ()  # endings of what is being done or still to do: no slips of what is done
    first_person: tuple[str, ...] = ()  # "i", "we": who inspects by text; of anybody else it is hearsay
    sources: tuple[str, ...] = ()  # "by", "from": an inspection on somebody's or something's word
    signing: tuple[str, ...] = ()  # what stands beside one's own name: "by", "signed", "supervisor"
    addressed: tuple[str, ...] = ()  # whom a text is said to, at the end of a clause: "boss", "lads"
    losses: tuple[str, ...] = ()  # that a thing gave way: "down", "off", "out"
    beyond: tuple[str, ...] = ()  # prepositions of a part, or of what is not the trench: "above", "outside"
    participles: tuple[str, ...] = ()  # endings of what may be done so: "tied off"
    verb_first: bool = False  # who goes in may stand after the going in: "podem entrar dois homens"
    within: tuple[str, ...] = ()  # where one is who is in, or that one went: "down there", "went in"
    because_of: tuple[str, ...] = ()  # "for water", "through the water": it is why, and there
    toward: tuple[str, ...] = ()  # of a heap: nearer to the trench
    held_by: tuple[str, ...] = ()  # before what holds something up
    orders: tuple[str, ...] = ()  # names of a place that, said first, tell somebody to do something
    done_so: tuple[str, ...] = ()  # endings of words that tell what somebody did: "Donal checked it"
    closing: tuple[str, ...] = ()  # words that end a sentence and say nothing: "like", "so it is"
    short_for: tuple[ShortFor, ...] = ()  # "nd" for "and", "2" for "to" before a verb
    opposite_ends: tuple[tuple[str, ...], ...] = ()  # names of the two ends of a trench, two and two
    clipped: tuple[str, ...] = ()  # articles that are clipped to the word after them: "t'hole"
    plain: tuple[str, ...] = ()  # ordinary words that look like a typing slip of a word above


NEEDED = (  # meanings that the code asks for by name
    "again", "all", "allow", "along", "and", "answer_all_safe", "answer_ignore", "answer_no",
    "answer_seen", "answer_yes", "arriving", "ask", "at", "bedding", "below", "beside", "between", "but",
    "carbon_monoxide", "cloud", "code", "correct", "count", "crossing", "deny", "dial", "doing", "down",
    "dug", "edge_t", "elsewhere", "end_of_range", "except", "exist", "fallen_to", "falls", "feet", "flaw",
    "gauge", "graded", "greeting", "head", "hedge", "hydrogen_sulphide", "in", "last_one", "lel",
    "lengthwise", "level", "limit", "link", "lost_after", "lost_by", "material", "may", "meant_for",
    "measured_from", "more", "negation", "none", "none_after", "now", "number", "object", "of", "open",
    "or", "order", "ordinal_ending", "over", "oxygen", "part", "part_after", "paved", "people", "placing",
    "plan", "range", "reference", "rename", "rest", "road", "service", "set", "stop_alone", "street",
    "stretch", "strike", "suppose", "target", "thanks", "thickness", "times", "top", "trace", "trench",
    "turned", "two_soils", "undo_after", "unit", "unit_t", "until", "upon", "vague", "verdict",
    "verdict_bad", "was", "was_at", "water_t", "yes",
)  # fmt: skip
OPTIONAL = (  # asked for by name as well, but a language may have no words for them
    "air_result", "at_least", "both", "both_rows", "bottom", "calls", "car_t", "chat", "dig_down", "doubting",
    "enter", "highest", "idle", "inwards", "judges", "lacking", "leave", "lowest", "meters", "one_end",
    "other_end", "plus", "pulled", "recorded", "roughly", "sends", "throughout", "what_of", "whether",
    "whole_list",
)  # fmt: skip
ASIDE = ("every", "from_edge", "same", "set_verb", "trenches")  # known words that nothing turns on
