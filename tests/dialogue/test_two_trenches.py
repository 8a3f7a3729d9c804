"""Two trenches, two phones: what one is asked, answers or opens is never taken for the other, nor for what it
was before others told more."""

import re
from collections.abc import Sequence

import pytest
from complete_day import CODE, DAY, Day

from bot.config.basis import Basis
from bot.dialogue.context import shift
from bot.message import Site
from knowledge.entry.may_enter import allowance, entry

REFS = ("T7", "T8", "T9")


def told_of(ref: str, *but: str) -> list[tuple[str, str]]:
    """The reports of a complete day, of one trench, but for some facts."""
    return [(who, text.replace("T7", ref)) for fact, who, text in DAY if fact not in but]


BOTH = [*told_of("T7"), *told_of("T8")]
NONE_INSPECTED = [*told_of("T7", "inspection"), *told_of("T8", "inspection")]


def lived(basis: Basis, before: Sequence[tuple[str, str]], texts: Sequence[str]) -> tuple[Day, str]:
    """A day on which these were told, and the last reply. A text is its sender's letter and its words."""
    day = Day(basis)
    for who, text in before:
        day.meant(who, text)
    reply = ""
    for line in texts:
        who, text = line.split(" ", 1)
        reply = day.say(who, text).reply
    return day, reply


def open_to_entry(basis: Basis, day: Day) -> set[str]:
    """Of which trenches the record says `may`, without asking: a question is a text too."""
    found = set[str]()
    for ref in REFS:
        trench = day.find(ref)
        if trench and not trench.closed and entry(trench, day.now, basis.tables, shift(SITE)).entry == "may":
            found.add(ref)
    return found


SITE = Site(name="Larch Street")

CASES = {
    "what was held until its trench was named is void once danger was told there": (
        NONE_INSPECTED,
        ("S inspected ok", "F T7 wall bulging", "S T7"),
        "",
    ),
    "or a stop": (NONE_INSPECTED, ("S inspected ok", "O T7 stop work, nobody in", "S T7"), ""),
    "with nothing in between it counts": (NONE_INSPECTED, ("S inspected ok", "S T7"), "T7"),
    "or it was undone": (
        [*told_of("T7", "ladder"), *told_of("T8")],
        ("R ladder in", "F T7 ladder taken out", "R T7"),
        "T8",
    ),
    "or told worse": (
        [*told_of("T7"), *told_of("T8", "spoil")],
        ("R spoil back 1.5m", "F T8 spoil 0.3 m", "R T8"),
        "T7",
    ),
    "what is held and named at once counts": (
        [*told_of("T7", "ladder"), *told_of("T8")],
        ("R ladder in", "R T7"),
        "T7 T8",
    ),
    "with good news of another fact in between, too": (
        [*told_of("T7", "ladder", "water"), *told_of("T8")],
        ("R ladder in", "F T7 no water", "R T7"),
        "T7 T8",
    ),
    "a YES is void where the figure was told worse": (
        [*told_of("T7", "spoil"), *told_of("T8")],
        ("F T7 spoil back 1.5m mostly", "R T7 spoil 0.3 m from edge", "F YES"),
        "T8",
    ),
    "or a gauge was": (
        [*told_of("T7", "units"), *told_of("T8")],
        ("F T7 all units set all at 40 bar or so", "R T7 unit 3 at 20 bar", "F YES", "S T7 inspected ok"),
        "T8",
    ),
    "or where it was of another trench, and holds that one, where it was known": (
        [*told_of("T7", "spoil"), *told_of("T8")],
        ("F T7 spoil back 1.5m mostly", "F that was T8 not T7", "F yes"),
        "",
    ),
    "or its sender said more of it": (
        [*told_of("T7", "spoil"), *told_of("T8")],
        ("F T7 spoil back 1.5m mostly", "F T7 no its not", "F yes"),
        "T8",
    ),
    "or the dig moved on": (
        [*told_of("T7", "units"), *told_of("T8")],
        ("F T7 all units set all at 40 bar more or less", "F T7 moved on 6m", "F yes"),
        "T8",
    ),
    "a YES is for the question that was asked last": (
        [*told_of("T7", "spoil"), *told_of("T8")],
        ("F T7 spoil back 1.5m mostly", "F T8 something off here", "F YES"),
        "",
    ),
    "and where others called everybody out meanwhile it must be named": (
        [*told_of("T7", "spoil"), *told_of("T8")],
        ("F T7 spoil back 1.5m mostly", "S T8 nobody in there", "F yes"),
        "",
    ),
    "named it counts": (
        [*told_of("T7", "spoil"), *told_of("T8")],
        ("F T7 spoil back 1.5m mostly", "S T8 nobody in there", "F yes T7"),
        "T7",
    ),
    "a YES with good news of another fact in between counts": (
        [*told_of("T7", "spoil", "water"), *told_of("T8")],
        ("F T7 spoil back 1.5m mostly", "F T7 no water", "R T8 no water", "F yes"),
        "T7 T8",
    ),
    "the old name of a trench is the trench": (BOTH, ("S T7 is now T9", "R T7 wall bulging"), "T8"),
    "of a merged one, too": (
        BOTH,
        ("S MERGE T8 into T7", "S T7 inspected ok", "R T8 wall bulging"),
        "",
    ),
    "the office renames nothing": (BOTH, ("O T7 is now T9", "R T9 wall bulging"), "T7 T8"),
    "units carried off at a time are gone": (BOTH, ("F 2 units taken from T7 to T8 at 0830",), "T8"),
    "a number is no trench": (BOTH, ("F T8 wall bulging", "S no 7 inspected ok"), ""),
    "nor is a report of it": (BOTH, ("F T7 dry", "F number 7 dug to 2.1"), ""),
    "who asked about a trench and then is not understood holds it": (
        BOTH,
        ("R T7 what next", "R the collar is not on right"),
        "T8",
    ),
    "what is worse of any of them stands against all until it is named": (BOTH, ("R dug to 2.1",), ""),
    "and then against that one": (BOTH, ("R dug to 2.1", "R T7"), "T8"),
    "a gauge that fell is danger at all": (BOTH, ("R unit 3 at 12 bar",), ""),
    "danger without a name is of all that its sender spoke of": (BOTH, ("F t 7 wall bulging",), ""),
    "of one who spoke of a single one it is of that": (
        BOTH,
        ("O T7 stop work", "O strut is leaking fluid"),
        "T8",
    ),
    "gas is of the site": (BOTH, ("R T7 dry", "R smell of gas"), ""),
    "danger with a name is of that one": (BOTH, ("F T7 wall bulging",), "T8"),
    "while two crews may be at one hole what is worse counts": (
        BOTH,
        ("R T7 depth 1.6 width 0.9 length 6 firm clay", "R T7 unit 3 at 0 bar"),
        "T8",
    ),
    "who comes to two has said of neither that it is safe": (
        BOTH,
        ("R T7 wall bulging", "R T8 wall bulging", "S on my way", "S inspected ok"),
        "",
    ),
    "who asks of both is asked which": (BOTH, ("F both ladders taken out",), ""),
}  # fmt: skip


@pytest.mark.parametrize(("before", "texts", "may"), CASES.values(), ids=CASES)
def test_only_what_is_whole_may_be_entered(
    basis: Basis, before: Sequence[tuple[str, str]], texts: Sequence[str], may: str
) -> None:
    day, reply = lived(basis, before, texts)
    try:
        assert open_to_entry(basis, day) == set(may.split()), reply
    finally:
        day.close()


def test_an_answer_of_before_is_not_given_again_once_things_have_changed(basis: Basis) -> None:
    day, reply = lived(basis, BOTH, ("F can we go in T7", "R T7 wall bulging", "F again"))
    day.close()
    assert "NOBODY IN" in reply and "Nothing outstanding" not in reply


def test_a_code_is_void_after_a_stop(basis: Basis) -> None:
    texts = ("S let them in T7", "O T7 stop work", "S T7 inspected ok", f"S T7 code {CODE}")
    day, reply = lived(basis, BOTH, texts)
    given = allowance(day.trench("T7"), day.now, basis.tables, shift(SITE))
    day.close()
    assert given is None, reply


NOT_UNDERSTOOD = (
    "F T7 wrong colour tin on the wotsit and the strap that came with it today from the other yard",
    "R T7 also dave says the yellow one is not what they wanted and he left it by the gate for them",
    "F T7 the other van brought some odd collars for it and none of us can say what they belong to",
    "R T7 forgot to say about the sling and the dog and the other thing that he was on about before",
)


def test_what_was_not_shown_is_not_seen(basis: Basis) -> None:
    day, reply = lived(basis, BOTH, (*NOT_UNDERSTOOD, "S T7 inspected ok"))
    rounds = 0
    while "text SEEN" in reply:
        shown = [text for text in NOT_UNDERSTOOD if text[-30:] in reply]
        held = len(day.trench("T7").now.open_texts)
        reply = day.say("S", "SEEN T7").reply
        rounds += 1
        assert held - len(day.trench("T7").now.open_texts) == len(shown)
    day.close()
    assert rounds > 1 and re.search("Nothing outstanding", reply)


def test_what_a_yes_would_take_is_said_back_with_all_that_is_left_over(basis: Basis) -> None:
    long = (
        "T7 ladder in by dave and bob and jim and sue and mike and harry and all the others but it is broken"
    )
    day, reply = lived(basis, told_of("T7", "ladder"), (f"F {long}",))
    day.close()
    assert "broken" in reply or "YES" not in reply


def test_a_new_name_is_told_to_all_who_use_the_old_one(basis: Basis) -> None:
    day = Day(basis)
    for who, text in BOTH:
        day.meant(who, text)
    told = {who for who, _ in day.say("F", "T7 is now T9").alerts}
    day.close()
    assert told == {"S"}
