"""What must hold of the reading for any message, driven by random ones.

Source of each property: the rules of the reading contract (README, "What is read").
"""

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bot.language.lexicon import load
from bot.language.tokens import tokenise
from bot.reading.read import read
from knowledge.reading import Reading

WORDS = load()
VOCABULARY = sorted(WORDS.languages["en"].words)
DETAILS = ("depth_m", "width_m", "length_m", "soil", "water", "ends", "spoil_m", "traffic")


def details(text: str) -> dict[str, object]:
    reading = read(text, WORDS).reading
    return {name: getattr(reading, name) for name in DETAILS}


def test_reads_the_first_message_of_the_contract() -> None:
    reading = read("depth 1.6 width 0.9 soil firm clay", WORDS).reading
    assert (reading.purpose, reading.depth_m, reading.width_m) == ("size", 1.6, 0.9)


@settings(max_examples=400)
@given(st.text(max_size=300))
@example("")
@example("?" * 10_000)
@example("1 " * 5_000)
@example("1/" * 5_000)
@example("T7 " * 3_333)
@example("no " * 3_333)
@example("'" * 10_000)
@example("depth " * 1_600)
@example("\u0130\u00df\ufb01 1.6")
def test_never_raises_on_any_text(text: str) -> None:
    assert isinstance(read(text, WORDS).reading, Reading)


@settings(max_examples=400)
@given(
    st.lists(
        st.one_of(
            st.sampled_from(VOCABULARY),
            st.sampled_from(
                [",", ".", "?", "\n", "-", "x", "/", "'", '"', "1.6", "0.9", "45 bar", "T7", "5'3\""]
            ),
        ),
        max_size=40,
    )
)
def test_never_raises_on_any_words_of_the_trade(said: list[str]) -> None:
    for asked in ((), ("depth_m", "width_m", "soil"), ("gauges",), ("trench", "water", "ends", "traffic")):
        assert isinstance(read(" ".join(said), WORDS, asked).reading, Reading)


@settings(max_examples=200)
@given(st.integers(2, 19), st.integers(0, 11), st.integers(1, 12), st.integers(0, 11))
def test_feet_and_metres_read_alike(feet: int, inches: int, wide: int, more: int) -> None:
    depth, width = feet * 0.3048 + inches * 0.0254, wide * 0.3048 + more * 0.0254
    imperial = read(f"{feet}'{inches}\" deep {wide}ft {more}in wide firm clay", WORDS).reading
    metric = read(f"{depth:.4f}m deep {width:.4f}m wide firm clay", WORDS).reading
    assert imperial.questions == metric.questions
    assert imperial.depth_m == pytest.approx(metric.depth_m, abs=0.0011)
    assert imperial.width_m == pytest.approx(metric.width_m, abs=0.0011)


@settings(max_examples=200)
@given(st.integers(300, 6000), st.integers(200, 5000))
def test_millimetres_and_metres_read_alike(depth: int, width: int) -> None:
    bare = read(f"depth {depth} width {width}", WORDS).reading
    metres = read(f"depth {depth / 1000}m width {width / 1000} m", WORDS).reading
    assert (bare.depth_m, bare.width_m) == (metres.depth_m, metres.width_m) == (depth / 1000, width / 1000)


CLAUSES = [
    "1.6 deep",
    "0.9 wide",
    "6 long",
    "firm clay",
    "dry",
    "ends battered",
    "spoil 1.5 back",
    "no traffic",
]


@settings(max_examples=200)
@given(st.permutations(CLAUSES), st.sampled_from([", ", "\n", ". ", "; "]))
def test_the_order_of_clauses_does_not_matter(clauses: list[str], joined: str) -> None:
    assert details(joined.join(clauses)) == details(", ".join(CLAUSES))


MESSAGES = [
    "depth 1.6 width 0.9 soil firm clay",
    "T7 1.6 deep 0.9 wide firm clay, no water",
    "u1 45 bar u2 44 bar, ladder in",
    "no cracks but water coming in",
    "can we go in T7?",
]


@settings(max_examples=200)
@given(st.sampled_from(MESSAGES), st.sampled_from([str.upper, str.title, str.swapcase]), st.integers(1, 4))
def test_capitals_blanks_and_emoji_do_not_matter(text: str, cased: object, blanks: int) -> None:
    plain = read(text, WORDS).reading
    written = (" " * blanks).join(cased(text).split(" "))  # type: ignore[operator]
    for other in (read(written, WORDS).reading, read(f"{text} \U0001f44d", WORDS).reading):
        assert [word.lower() for word in other.left_over] == [word.lower() for word in plain.left_over]
        assert other.model_copy(update={"left_over": plain.left_over}) == plain
    assert not read(f"\U0001f6a7 {text}", WORDS).reading.whole


@settings(max_examples=300)
@given(
    st.integers(0, 999_999),
    st.sampled_from(["07700 {}", "+44 7700 {}", "+447700{}", "07700{}"]),
    st.booleans(),
)
def test_a_telephone_number_is_never_a_length(number: int, form: str, before: bool) -> None:
    # 07700 900000 to 900999 are set aside for drama by Ofcom; any six digits are tried here
    phone = form.format(f"{number:06d}")
    message = "1.6 deep 0.9 wide firm clay"
    whole = f"{phone} {message}" if before else f"{message} {phone}"
    assert details(whole) == details(message)
    assert not any(details(phone).values())


@settings(max_examples=300)
@given(st.floats(0.001, 9999, allow_nan=False), st.sampled_from(["", "m", "mm", "ft", " metres"]))
def test_a_figure_without_a_label_is_never_taken(value: float, unit: str) -> None:
    reading = read(f"{value:.3f}{unit} in firm clay", WORDS).reading
    assert (reading.depth_m, reading.width_m, reading.length_m) == (None, None, None)


@settings(max_examples=300)
@given(st.floats(0.01, 99, allow_nan=False), st.sampled_from(["depth", "width"]))
def test_a_named_figure_is_read_or_asked_about(value: float, label: str) -> None:
    reading = read(f"{label} {value:.2f}", WORDS).reading
    got = getattr(reading, f"{label}_m")
    least, most = (0.3, 6.0) if label == "depth" else (0.2, 5.0)
    if least <= round(value, 2) <= most:
        assert got == pytest.approx(round(value, 2), abs=0.0006)
    else:
        assert got is None
        assert f"{label}_m" in reading.questions


def test_a_long_text_is_not_acted_on_but_its_dangers_are() -> None:
    reading = read(
        "chat and more chat. " * 300 + "depth 1.6 width 0.9 firm clay. water coming in", WORDS
    ).reading
    assert (reading.purpose, reading.hazards, reading.depth_m) == ("report", ("water",), None)


@pytest.mark.parametrize("before", [0, 60, 150, 290, 400])
def test_danger_counts_wherever_it_stands_in_a_long_text(before: int) -> None:
    """Some fifteen characters a piece: 400 of them are a text of 9,000."""
    said = "chat and more chat. " * before + "T7 side slipped. " + "chat and more chat. " * (450 - before)
    reading = read(said, WORDS).reading
    assert (reading.purpose, reading.hazards, reading.trench) == ("report", ("movement",), "T7")
    two = read(said + " T8 too", WORDS).reading
    assert two.hazards == ("movement",) and two.questions == ("trench",)


def test_tokens_keep_what_was_written() -> None:
    assert [token.raw for token in tokenise("T7: 1.6m")] == ["T", "7", ":", "1.6", "m"]
