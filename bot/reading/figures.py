"""Tokens to pieces: words, marks, and figures with the unit they were written with.

A figure is a number that was said, in digits or words, whatever it measures. What it measures is
decided later, by the words about it: no label, no meaning.
"""

from dataclasses import dataclass
from typing import Literal

from bot.reading.meanings import NONE, Meanings
from bot.reading.tokens import Token
from bot.reading.words import Language, Numbers

Kind = Literal["length", "bare", "pressure", "other", "ordinal", "noise"]
METRES = {"m": 1.0, "mm": 0.001, "cm": 0.01, "ft": 0.3048, "inch": 0.0254}
BARS = {"bar": 1.0, "psi": 0.0689475729, "MPa": 10.0, "kPa": 0.01}
PARTS = frozenset((2, 3, 4, 8, 16, 32))  # what a written fraction may divide by


@dataclass(slots=True, eq=False)
class Figure:
    """A number as said. `whole` without decimals; `doubt` where the number itself has two readings."""

    value: float
    unit: str | None = None
    kind: Kind = "bare"
    whole: bool = True
    spoken: bool = False
    doubt: bool = False
    other: "Figure | None" = None  # the other end of a range
    merged: bool = False  # the lesser end of a range, now part of the other
    grouped: bool = False  # written with a comma before three digits

    @property
    def metres(self) -> float:
        """The length in metres, by the unit written."""
        return self.value * METRES[self.unit or "m"]

    @property
    def bar(self) -> float:
        """The pressure in bar, by the unit written."""
        return self.value * BARS[self.unit or "bar"]


@dataclass(slots=True, eq=False)
class Piece:
    """A word, mark, figure or trench reference of a message, in its place."""

    kind: Literal["word", "mark", "figure", "ref"]
    text: str
    raw: str
    glued: bool = False
    figure: Figure | None = None
    tags: Meanings = NONE
    used: bool = False  # taken as a figure, label or word of something
    told: bool = False  # a fact was made of it
    clause: int = 0
    state: str = ""  # "", denied, planned, supposed or asked


def pieces_of(tokens: list[Token], language: Language) -> list[Piece]:
    """Tokens as pieces, numbers gathered with their units. Linear in the number of tokens."""
    return _Gatherer(tokens, language).all()


class _Gatherer:
    """Walks the tokens once from left to right."""

    def __init__(self, tokens: list[Token], language: Language) -> None:
        self.tokens = tokens
        self.units = language.units
        self.numbers: Numbers = language.vocabulary.numbers
        self.language = language
        self.starts = language.numerals

    def all(self) -> list[Piece]:
        pieces: list[Piece] = []
        at = 0
        count = len(self.tokens)
        while at < count:
            token = self.tokens[at]
            if token.kind == "noise":
                slip = "." in token.text and sum(char.isalpha() or char == "?" for char in token.text) == 1
                noise = Figure(0.0, doubt=True) if slip else Figure(0.0, kind="noise")  # "l.6", "1.x"
                pieces.append(Piece("figure", token.text, token.raw, figure=noise))
                at += 1
                continue
            if token.kind == "number" or (token.kind == "word" and token.text in self.starts):
                found = self.figure(at)
                if found is not None:
                    figure, end = found
                    raw = self.written(at, end)
                    glued = token.glued and self.tokens[at - 1].kind == "word"
                    pieces.append(Piece("figure", token.text, raw, glued, figure))
                    at = end
                    continue
            if token.kind == "word":
                ref = self.reference(at)
                if ref is not None:
                    pieces.append(ref)
                    at += 3 if self.tokens[at + 1].kind == "mark" else 2
                    continue
                pieces.extend(self.word(at))
            elif token.kind == "number":  # a number nothing could be made of
                pieces.append(Piece("figure", token.text, token.raw, figure=Figure(0.0, doubt=True)))
            else:
                pieces.append(Piece("mark", token.text, token.raw, token.glued))
            at += 1
        return pieces

    def written(self, start: int, end: int) -> str:
        return "".join(
            token.raw if token.glued or place == 0 else " " + token.raw
            for place, token in enumerate(self.tokens[start:end])
        )

    def word(self, at: int) -> list[Piece]:
        """A word; one glued to a figure ("deepx", "mdeep") is parted where both parts are known."""
        token = self.tokens[at]
        text = token.text
        if token.glued and text not in self.language.words and self.tokens[at - 1].kind == "number":
            for cut in range(1, min(len(text), 8)):
                head, tail = text[:cut], text[cut:]
                if head in self.language.words and tail in self.language.words:
                    return [Piece("word", head, head, True), Piece("word", tail, tail, True)]
        return [Piece("word", text, token.raw, token.glued)]

    def reference(self, at: int) -> Piece | None:
        """A trench reference: one letter and a short number written together ("T7", "t-12", "A3")."""
        token = self.tokens[at]
        if len(token.raw) != 1 or not token.raw.isalpha() or not token.raw.isascii():
            return None
        if token.text != "t" and (not token.raw.isupper() or token.text in "dwluhxmv"):
            return None
        if token.glued and at > 0 and self.tokens[at - 1].kind in ("number", "word"):
            return None
        step = at + 1
        if step + 1 < len(self.tokens) and self.tokens[step].text == "-" and self.tokens[step].glued:
            step += 1
        if step >= len(self.tokens):
            return None
        number = self.tokens[step]
        if number.kind != "number" or not number.text.isdigit() or len(number.text) > 3:
            return None
        if not number.glued and (token.raw != "T" or self._is_unit(step + 1)):
            return None
        if step + 1 < len(self.tokens):
            after = self.tokens[step + 1]
            if after.glued and after.kind == "word" and len(after.text) > 1:
                return None
        if (
            at > 0
            and token.text in "abm"
            and self.tokens[at - 1].text in self.language.vocabulary.say["road"]
        ):
            return Piece("figure", token.text, token.raw + number.raw, figure=Figure(0.0, kind="noise"))
        ref = token.raw.upper() + number.text
        return Piece("ref", ref, ref)

    def figure(self, at: int) -> tuple[Figure, int] | None:
        """The figure that starts here and the token after it."""
        found = self.number(at)
        if found is None:
            return None
        figure, end = found
        figure, end = self.with_unit(figure, at, end)
        if figure.spoken and figure.unit is None and figure.whole and self._is_pronoun(at, end):
            return None
        return figure, end

    def _is_pronoun(self, at: int, end: int) -> bool:
        """ "a" and "an" are numbers only before a unit."""
        return end == at + 1 and self.tokens[at].text in self.numbers.one

    # --- the number itself ---

    def number(self, at: int) -> tuple[Figure, int] | None:
        token = self.tokens[at]
        if token.kind == "number":
            figure, end = self.digits(at)
        else:
            spoken = self.spoken(at)
            if spoken is None:
                return None
            figure, end = spoken
        return self.and_a_half(figure, end)

    def digits(self, at: int) -> tuple[Figure, int]:
        text = self.tokens[at].text
        figure = Figure(0.0, whole=text.isdigit())
        if "," in text:
            whole, part = text.split(",")
            figure.grouped = len(part) == 3 and 0 < len(whole) <= 3 and whole != "0"
            text = f"{whole}.{part}"
        figure.value = float(text) if len(text) < 20 else 0.0
        end = at + 1
        if not figure.whole:
            return figure, end
        part_of = self.fraction(at)
        if part_of is not None and figure.value < part_of:
            return Figure(figure.value / part_of, whole=False), at + 3
        if end < len(self.tokens) and self.tokens[end].kind == "number" and self.tokens[end].text.isdigit():
            part_of = self.fraction(end)
            if part_of is not None and int(self.tokens[end].text) < part_of:
                figure.value += int(self.tokens[end].text) / part_of
                figure.whole = False
                end += 3
        return figure, end

    def fraction(self, at: int) -> int | None:
        """What the number here is divided by, where a fraction is written."""
        if at + 2 >= len(self.tokens) or self.tokens[at + 1].text != "/":
            return None
        below = self.tokens[at + 2]
        if not (self.tokens[at + 1].glued and below.glued and below.kind == "number"):
            return None
        return (
            int(below.text)
            if below.text.isdigit() and len(below.text) < 3 and int(below.text) in PARTS
            else None
        )

    def spoken(self, at: int) -> tuple[Figure, int] | None:
        numbers, tokens = self.numbers, self.tokens
        text = tokens[at].text
        if text in numbers.half or text in numbers.quarter:
            return self.part(at, 0.5 if text in numbers.half else 0.25)
        if text in numbers.one:
            follows = self.text(at + 1)
            if follows in numbers.half or follows in numbers.quarter:
                return self.part(at + 1, 0.5 if follows in numbers.half else 0.25)
            if follows in numbers.hundred:
                return Figure(100.0, spoken=True), at + 2
            if follows in self.units and len(follows) > 2:
                return Figure(1.0, spoken=True), at + 1
            return None
        figure = Figure(0.0, spoken=True)
        if at and text in numbers.small and tokens[at - 1].text in self.language.vocabulary.say["unit"]:
            figure.value = float(numbers.small[text])  # "unit one six hundred psi"
            return figure, at + 1
        end = at
        if text not in numbers.point:
            whole, end = self.spoken_whole(at)
            figure.value = float(whole)
            follows = self.text(end)
            if follows in numbers.quarter and whole == 3:
                return self.part(end, 0.75)
        if self.text(end) in numbers.point:
            digits, after = self.spoken_digits(end + 1)
            if digits:
                figure.value += float("0." + digits)
                figure.whole = False
                end = after
            elif end == at:
                return None
        elif end < len(tokens) and (self.text(end) in numbers.small or self.text(end) in numbers.tens):
            figure.doubt = True  # "one six", "nine fifty"
            end = self.spoken_whole(end)[1]
        return (figure, end) if end > at else None

    def part(self, at: int, value: float) -> tuple[Figure, int] | None:
        """Half or a quarter of a unit: "half a metre". Without a unit after it, nothing."""
        end = at + 1
        while self.text(end) in self.numbers.one or self.text(end) in self.language.vocabulary.say["of"]:
            end += 1
        return (Figure(value, whole=False, spoken=True), end) if self.text(end) in self.units else None

    def spoken_whole(self, at: int) -> tuple[int, int]:
        numbers = self.numbers
        value, end = 0, at
        text = self.text(end)
        if text in numbers.tens:
            value, end = numbers.tens[text], end + 1
            below = numbers.small.get(self.text(end), 0)
            if 0 < below < 10:
                value, end = value + below, end + 1
        elif text in numbers.small:
            value, end = numbers.small[text], end + 1
        for words, factor in ((numbers.hundred, 100), (numbers.thousand, 1000)):
            if self.text(end) in words:
                value, end = max(value, 1) * factor, end + 1
                step = end + 1 if self.text(end) in numbers.joined else end
                if self.text(step) in numbers.tens or self.text(step) in numbers.small:
                    below, end = self.spoken_whole(step)
                    value += below
        return value, end

    def spoken_digits(self, at: int) -> tuple[str, int]:
        """Digits after a spoken point: "six", "two five", "twenty five", "oh five", "6"."""
        numbers, digits, end = self.numbers, "", at
        while len(digits) < 4:
            text = self.text(end)
            if text in numbers.zero:
                digits += "0"
            elif text in numbers.small and numbers.small[text] < 10:
                digits += str(numbers.small[text])
            elif text in numbers.small or text in numbers.tens:
                whole, end = self.spoken_whole(end)
                return digits + str(whole), end
            elif text.isdigit() and not digits and len(text) <= 3:
                return text, end + 1
            else:
                break
            end += 1
        return digits, end

    def and_a_half(self, figure: Figure, end: int) -> tuple[Figure, int]:
        """ "two and a half", "5 and a quarter", "one and 3/4"."""
        if not figure.whole or self.text(end) not in self.numbers.joined:
            return figure, end
        step = end + 1
        if self.text(step) in self.numbers.one:
            step += 1
        text = self.text(step)
        if text in self.numbers.half or (text in self.numbers.quarter):
            figure.value += 0.5 if text in self.numbers.half else 0.25
            figure.whole = False
            return figure, step + 1
        part_of = self.fraction(step) if text.isdigit() else None
        if part_of is not None and int(text) < part_of:
            figure.value += int(text) / part_of
            figure.whole = False
            return figure, step + 3
        return figure, end

    # --- its unit ---

    def with_unit(self, figure: Figure, start: int, end: int) -> tuple[Figure, int]:
        text = self.text(end)
        unit, stop = self.unit_at(start, end)
        if unit is None:
            if text in self.language.vocabulary.say["ordinal_ending"] and self.tokens[end].glued:
                figure.kind = "ordinal"
                return figure, end + 1
            if figure.grouped and figure.value >= 1:
                figure.value *= 1000  # "1,600" bare: 1600 mm and 1.600 m are the same
            return figure, end
        figure.unit = unit
        if unit in BARS:
            figure.kind = "pressure"
            if figure.grouped and unit in ("psi", "kPa"):
                figure.value *= 1000
        elif unit == "other":
            figure.kind = "other"
        else:
            figure.kind = "length"
            if figure.grouped and unit == "mm":
                figure.value *= 1000
            figure, stop = self.smaller(figure, stop)
            half, after = self.and_a_half(Figure(0.0), stop)
            if half.value and figure.whole:
                figure.value += half.value
                figure.whole = False
                stop = after
        return figure, stop

    def unit_at(self, start: int, end: int) -> tuple[str | None, int]:
        if end >= len(self.tokens):
            return None, end
        token = self.tokens[end]
        if token.kind == "mark":
            if token.text not in ("'", '"') or not token.glued:
                return None, end
            before = self.text(start - 1) if start else ""
            if token.text == before and not self._nested(start - 1):
                return None, end  # the figure stands in quotation marks
            if token.text == "'" and self.text(end + 1) == "'" and self.tokens[end + 1].glued:
                return "inch", end + 2
            return ("ft" if token.text == "'" else "inch"), end + 1
        if token.kind != "word":
            return None, end
        text = token.text
        unit = self.units.get(text)
        if unit is None:
            return None, end
        if unit == "inch" and text in self.language.vocabulary.say["in"] and not self._inches(start, end):
            return None, end
        stop = end + 1
        if unit in ("ft", "inch", "m", "mm", "cm") and self.text(stop) == "." and self._goes_on(stop + 1):
            stop += 1
        return unit, stop

    def _nested(self, at: int) -> bool:
        return at > 0 and self.tokens[at - 1].kind == "number"

    def _goes_on(self, at: int) -> bool:
        """After an abbreviation's full stop the sentence goes on: a label is next, or inches follow."""
        if at >= len(self.tokens) or self.tokens[at].glued:
            return False
        return self._is_label(at) or (
            self.tokens[at].kind == "number" and self.units.get(self.text(at + 1)) == "inch"
        )

    def _inches(self, start: int, end: int) -> bool:
        """ "in" after a figure means inches only where the place leaves no other reading."""
        if self.tokens[end].glued:
            return True
        before = start - 2 if self.text(start - 1) == "." else start - 1
        if start and self.units.get(self.text(before)) == "ft":
            return True
        if start > 1 and self.tokens[start - 1].text == "'":
            return True
        return self._is_label(end + 1) or (
            self._is_label(start - 1) and self.text(end + 1) in ("", ",", ".", "\n")
        )

    def _is_label(self, at: int) -> bool:
        if not 0 <= at < len(self.tokens):
            return False
        tags = self.language.meanings(self.tokens[at].text)
        return tags.label is not None

    def smaller(self, figure: Figure, end: int) -> tuple[Figure, int]:
        """The second part of a length in two units: "5ft 3", "5'3 1/2\\"", "1m60", "one metre sixty"."""
        if not figure.whole or figure.unit not in ("ft", "m") or end >= len(self.tokens):
            return figure, end
        step = end
        if self.text(step) == "-" and figure.unit == "ft" and self.tokens[step].glued:
            step += 1
        if self.text(step) in self.numbers.joined and figure.unit == "ft":
            step += 1
        if step >= len(self.tokens):
            return figure, end
        token = self.tokens[step]
        if token.kind == "number":
            second, after = self.digits(step)
        elif token.kind == "word" and (token.text in self.numbers.small or token.text in self.numbers.tens):
            value, after = self.spoken_whole(step)
            second = Figure(float(value), spoken=True)
            if self.text(after) in self.numbers.point:
                return figure, end
        else:
            return figure, end
        if step > end and token.kind == "word" and self.text(after) not in self.units:
            return figure, end  # "six foot and two lads"
        unit, stop = self.unit_at(step, after)
        if figure.unit == "ft":
            return self._inches_of(figure, end, second, unit, after, stop)
        return self._centimetres_of(figure, end, step, second, unit, after, stop)

    def _inches_of(
        self, figure: Figure, end: int, second: Figure, unit: str | None, after: int, stop: int
    ) -> tuple[Figure, int]:
        if second.value >= 12 or unit not in (None, "inch"):
            return figure, end
        if unit is None:
            half, later = self.and_a_half(Figure(0.0), after)
            if half.value:
                second.value, after = second.value + half.value, later
                unit, stop = self.unit_at(after - 1, after)
            if not (second.whole or half.value) or self.text(after) in self.language.vocabulary.say["times"]:
                return figure, end
            if self._counted(after):
                return figure, end
        return Figure(figure.value + second.value / 12, "ft", "length", whole=False), max(after, stop)

    def _counted(self, at: int) -> bool:
        return not self.language.meanings(self.text(at)).isdisjoint(("count", "unit"))

    def _centimetres_of(
        self, figure: Figure, end: int, step: int, second: Figure, unit: str | None, after: int, stop: int
    ) -> tuple[Figure, int]:
        token = self.tokens[step]
        if not second.whole:
            return figure, end
        if unit in ("cm", "mm"):
            return Figure(figure.value + second.value * METRES[unit], "m", "length", whole=False), stop
        if unit is not None:
            return figure, end
        two_digits = (token.kind == "number" and len(token.text) == 2) or (
            second.spoken and second.value >= 10
        )
        if (token.glued or second.spoken) and two_digits:
            return Figure(figure.value + second.value / 100, "m", "length", whole=False), after
        if token.glued and token.kind == "number" and len(token.text) == 3:
            return Figure(figure.value + second.value / 1000, "m", "length", whole=False), after
        if two_digits and second.value >= 10 and self._is_label(after):  # "1m 60 deep"
            return Figure(figure.value + second.value / 100, "m", "length", whole=False), after
        if token.glued or second.spoken:  # "1m6": six tenths or six hundredths
            return Figure(figure.value, "m", "length", doubt=True), after
        return figure, end

    # --- small looks ---

    def text(self, at: int) -> str:
        return self.tokens[at].text if 0 <= at < len(self.tokens) else ""

    def _is_unit(self, at: int) -> bool:
        return self.text(at) in self.units
