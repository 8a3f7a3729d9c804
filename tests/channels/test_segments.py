"""SMS counting against 3GPP TS 23.038 (R1: read in reproductions) and an open codec of the same alphabet.

Part lengths are TS 23.040's 140 octets worked out (R1, C); tables of counts are worked by hand from them (C).
"""

import gsm0338
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.channels import segments

CODEC = gsm0338.Codec()

COUNTS = [  # text, coding, units, parts
    ("a" * 160, "GSM", 160, 1),
    ("a" * 161, "GSM", 161, 2),
    ("a" * 306, "GSM", 306, 2),
    ("a" * 307, "GSM", 307, 3),
    ("a" * 459, "GSM", 459, 3),
    ("a" * 460, "GSM", 460, 4),
    ("€" * 80, "GSM", 160, 1),
    ("€" * 81, "GSM", 162, 2),
    # The euro may not straddle septets 153 and 154.
    ("a" * 152 + "€" + "a" * 152, "GSM", 306, 3),
    ("ж" * 70, "UCS-2", 70, 1),
    ("ж" * 71, "UCS-2", 71, 2),
    ("ж" * 134, "UCS-2", 134, 2),
    ("ж" * 135, "UCS-2", 135, 3),
    ("depth 1.6 x width 0.9", "GSM", 21, 1),
    ("depth 1.6 × width 0.9", "UCS-2", 21, 1),
    ("😀", "UCS-2", 2, 1),
    # 66 units, then a pair that does not fit into the 67th.
    ("ж" * 66 + "😀" + "ж" * 66, "UCS-2", 134, 3),
    ("", "GSM", 0, 1),
]

PLAIN = [  # as written, as put in the GSM alphabet (practice; no source says how to replace a sign)
    ("1.6 × 0.9 m²", "1.6 x 0.9 m2"),
    ("γ ≥ 18 kN/m³, φ 30°", "gamma >= 18 kN/m3, phi 30 deg"),
    ("½ in", "1/2 in"),
    ("1½ in", "1 1/2 in"),  # never 11/2
    ("10² and 10⁻³", "10^2 and 10-3"),  # never 102
    ("“don’t” – wait…", '"don\'t" - wait...'),
    ("µ ✓ →", "u ok ->"),
    ("łódź, ręka, ça", "lodz, reka, ca"),
    ("Ça où ñ ß €5 [x]", "Ça où ñ ß €5 [x]"),
    ("1.6\u00a0m\tdeep", "1.6 m deep"),
    ("e\u0301te\u0301", "été"),  # a letter and its accent apart
]


@pytest.mark.parametrize(("text", "coding", "units", "parts"), COUNTS)
def test_counts_as_worked_by_hand(text: str, coding: str, units: int, parts: int) -> None:
    assert segments.count(text) == segments.SmsCount(coding, units, parts)


def test_the_alphabet_is_that_of_an_open_codec() -> None:
    """PyPI gsm0338, made apart from us from the same standard: every character below U+FFFF."""
    for char in map(chr, range(0xD800)):
        try:
            septets = len(CODEC.encode(char)[0])
        except UnicodeEncodeError:
            septets = 0
        ours = segments.count(char).units if segments.is_gsm(char) else 0
        # ESC is in the codec's table as itself; sent alone it would change the character after it.
        assert ours == (0 if char == "\x1b" else septets), hex(ord(char))


@pytest.mark.parametrize("char", "×°²³½¼≤≥–—“”‘’•…µφγ→✓`çáíóúêã\tżдب")
def test_what_is_outside_the_alphabet(char: str) -> None:
    """Worked from the table of TS 23.038 (C)."""
    assert not segments.is_gsm(f"depth 1.6 {char}")


@pytest.mark.parametrize(("written", "put"), PLAIN)
def test_signs_are_put_plainly(written: str, put: str) -> None:
    assert segments.to_gsm(written) == put
    assert segments.is_gsm(put)


@pytest.mark.parametrize("text", ["глубина 1.6", "عمق 1.6", "深さ 1.6", "depth 1.6 😀"])
def test_a_letter_without_plain_form_is_kept(text: str) -> None:
    assert segments.to_gsm(text) == text
    assert segments.count(segments.to_gsm(text)).coding == "UCS-2"


@given(st.text())
def test_putting_plainly_twice_changes_nothing_more(text: str) -> None:
    once = segments.to_gsm(text)
    assert segments.to_gsm(once) == once


@given(st.text(max_size=600) | st.text(alphabet="a€[ж😀 \n", max_size=600))
def test_parts_hold_all_and_none_is_too_long(text: str) -> None:
    parts = segments.split(text)
    coding = segments.count(text).coding
    assert "".join(parts) == text
    for part in parts:
        if coding == "GSM":
            septets = len(CODEC.encode(part)[0])
            assert septets <= (153 if len(parts) > 1 else 160)
        else:
            octets = len(part.encode("utf-16-be", "surrogatepass"))
            assert octets <= (134 if len(parts) > 1 else 140)


@given(st.text(alphabet="ab €ж😀\n", max_size=900), st.integers(1, 3))
def test_pages_lose_only_blanks(text: str, most: int) -> None:
    pages = segments.pages(text, most)
    assert all(segments.count(page).parts <= most for page in pages)
    blanks = str.maketrans("", "", " \n")
    assert "".join(pages).translate(blanks) == text.translate(blanks)


def test_pages_break_at_a_blank() -> None:
    text = " ".join(["level"] * 60)  # 359 septets
    first, second = segments.pages(text, 2)
    assert first.endswith("level") and second.startswith("level")
    assert f"{first} {second}" == text


def test_a_text_takes_at_least_one_part() -> None:
    with pytest.raises(ValueError):
        segments.pages("a", 0)
