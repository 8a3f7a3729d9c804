"""Tokens to pieces: words, marks, and figures with the unit they were written with.

A figure is a number that was said, in digits or words, whatever it measures. What it measures is
decided later, by the words about it: no label, no meaning.
"""

from bot.language.lexicon import Language
from bot.language.tokens import Token, reference
from bot.reading.text.numbers import NumberReader
from bot.reading.text.spans import BARS, METRES, SaidFigure, Span


def pieces_of(tokens: list[Token], language: Language) -> list[Span]:
    """Tokens as pieces, numbers gathered with their units. Linear in the number of tokens."""
    return _Gatherer(tokens, language).all()


class _Gatherer(NumberReader):
    """Walks the tokens once from left to right."""

    def __init__(self, tokens: list[Token], language: Language) -> None:
        super().__init__(tokens, language)
        self.starts = language.numerals

    def all(self) -> list[Span]:
        pieces: list[Span] = []
        at = 0
        count = len(self.tokens)
        while at < count:
            token = self.tokens[at]
            if token.kind == "noise":
                slip = "." in token.text and sum(char.isalpha() or char == "?" for char in token.text) == 1
                slip = slip or (token.text[-2:-1] == ":" and token.text.count(":") == 1)
                noise = (
                    SaidFigure(0.0, doubt=True) if slip else SaidFigure(0.0, kind="noise")
                )  # "l.6", "1.x", "1:6"
                pieces.append(Span("figure", token.text, token.raw, figure=noise))
                at += 1
                continue
            if token.kind == "word" and (one := self.one_metre(at)) is not None:
                figure, end = one
                pieces.append(Span("figure", token.text, self.written(at, end), token.glued, figure))
                at = end
                continue
            if token.kind == "number" or (token.kind == "word" and token.text in self.starts):
                found = self.figure(at)
                if found is not None:
                    figure, end = found
                    raw = self.written(at, end)
                    glued = token.glued and self.tokens[at - 1].kind == "word"
                    pieces.append(Span("figure", token.text, raw, glued, figure))
                    at = end
                    continue
            if token.kind == "word":
                ref = self.reference(at) if len(token.raw) == 1 else None
                if (sign := self.formula(at)) is not None:
                    pieces.append(sign[0])
                    at += sign[1]
                    continue
                if ref is not None:
                    pieces.append(ref)
                    at += 3 if self.tokens[at + 1].kind == "mark" else 2
                    at += ref.text[-1].isalpha()
                    continue
                pieces.append(Span("word", token.text, token.raw, token.glued))
            elif token.kind == "number":  # a number nothing could be made of
                pieces.append(Span("figure", token.text, token.raw, figure=SaidFigure(0.0, doubt=True)))
            else:
                pieces.append(Span("mark", token.text, token.raw, token.glued))
            at += 1
        return pieces

    def one_metre(self, at: int) -> tuple[SaidFigure, int] | None:
        """ "metre and a half", "metre eighty": one metre, unsaid."""
        if self.units.get(self.text(at)) != "m" or len(self.text(at)) < 3:
            return None
        figure, end = self.and_a_half(SaidFigure(1.0, "m", "length", spoken=True), at + 1)
        if end == at + 1 and (self.text(end) in self.numbers.tens or self._and_tens(end)):
            figure, end = self.smaller(figure, end)
        tags = self.language.meanings(self.text(at + 1))
        sized = tags.label is not None and tags.label[1] == "after" and "below" not in tags
        if sized and end == at + 1 and at and self.text(at - 1) == ",":
            return figure, end  # "2.4 deep, metre wide"
        return (figure, end) if end > at + 1 else None

    def written(self, start: int, end: int) -> str:
        if end == start + 1:
            return self.tokens[start].raw
        return "".join(
            token.raw if token.glued or place == 0 else " " + token.raw
            for place, token in enumerate(self.tokens[start:end])
        )

    def formula(self, at: int) -> tuple[Span, int] | None:
        """ "H2S", "o2": letters and a figure of one known word, that are written together; and how many
        tokens they are."""
        for count in (3, 2):
            parts = self.tokens[at : at + count]
            text = "".join(part.text for part in parts)
            joined = len(parts) == count and all(part.glued for part in parts[1:])
            if joined and text in self.language.phrases:
                return Span("word", text, "".join(part.raw for part in parts)), count
        return None

    def reference(self, at: int) -> Span | None:
        """A trench reference: one letter and a short number written together ("T7", "t-12", "A3")."""
        token = self.tokens[at]
        if not token.raw.isalpha() or not token.raw.isascii():
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
        if not number.text.isdecimal():
            return None
        if not number.glued and len(number.text) > 3 and self._measures(step + 1):
            return None
        if not number.glued and (token.raw != "T" or self.text(step + 1) in self.units):
            return None
        if step + 1 < len(self.tokens):
            after = self.tokens[step + 1]
            if after.glued and after.kind == "word" and len(after.text) > 1:
                return None
            if "graded" in self.language.meanings(after.text):
                return Span(
                    "figure", token.text, token.raw + number.raw, figure=SaidFigure(0.0, kind="noise")
                )
        if at > 0 and token.text in "abm" and "road" in self.language.meanings(self.tokens[at - 1].text):
            return Span("figure", token.text, token.raw + number.raw, figure=SaidFigure(0.0, kind="noise"))
        if step == at + 1 and token.text + number.text in self.language.phrases:
            return Span("word", token.text + number.text, token.raw + number.raw)  # "O2" is no trench
        ref = reference(token.raw, number.text, self.suffix(step + 1))
        return Span("ref", ref, ref)

    def _measures(self, at: int) -> bool:
        """ "T 1600 deep", "T 1600 x 900": a length, and no name."""
        return self._is_label(at) or "times" in self.language.meanings(self.text(at))

    def suffix(self, at: int) -> str:
        """The letter after a reference's number: "T7b"."""
        lettered = (
            at < len(self.tokens) and self.tokens[at].glued and self.text(at) in ("a", "b", "c", "d", "e")
        )
        return self.text(at) if lettered else ""

    def figure(self, at: int) -> tuple[SaidFigure, int] | None:
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

    # --- its unit ---

    def with_unit(self, figure: SaidFigure, start: int, end: int) -> tuple[SaidFigure, int]:
        text = self.text(end)
        unit, stop = self.unit_at(start, end)
        if unit is None:
            if "ordinal_ending" in self.language.meanings(text) and self.tokens[end].glued:
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
            half, after = self.and_a_half(SaidFigure(0.0), stop)
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
        if (
            unit == "other"
            and len(text) == 1
            and self.tokens[end + 1 : end + 2]
            and (self.tokens[end + 1].kind == "number" and self.tokens[end + 1].glued)
        ):
            return None, end  # "level 2 T3": no tonnes
        if unit == "other" and "vague" in self.language.meanings(text) and self._is_label(end + 1):
            return None, end  # "max depth 1.6 min depth 1.2": no minutes
        if unit == "inch" and "in" in self.language.meanings(text) and not self._inches(start, end):
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

    def smaller(self, figure: SaidFigure, end: int) -> tuple[SaidFigure, int]:
        """The second part of a length in two units: "5ft 3", "5'3 1/2\\"", "1m60", "one metre sixty"."""
        if not figure.whole or figure.unit not in ("ft", "m") or end >= len(self.tokens):
            return figure, end
        step = end
        if self.text(step) == "-" and figure.unit == "ft" and self.tokens[step].glued:
            step += 1
        tens = figure.unit == "m" and self._and_tens(step)
        if (self.text(step) in self.numbers.joined and figure.unit == "ft") or tens:
            step += 1
        if step >= len(self.tokens):
            return figure, end
        token = self.tokens[step]
        if token.kind == "number":
            second, after = self.digits(step)
        elif token.kind == "word" and (token.text in self.numbers.small or token.text in self.numbers.tens):
            value, after = self.spoken_whole(step)
            second = SaidFigure(float(value), spoken=True)
            if self.text(after) in self.numbers.point:
                return figure, end
        else:
            return figure, end
        counts = not tens or self.language.meanings(self.text(after)).thing
        if step > end and token.kind == "word" and self.text(after) not in self.units and counts:
            return figure, end  # "six foot and two lads"
        unit, stop = self.unit_at(step, after)
        if figure.unit == "ft":
            return self._inches_of(figure, end, second, unit, after, stop)
        return self._centimetres_of(figure, end, step, second, unit, after, stop)

    def _and_tens(self, at: int) -> bool:
        """ "um metro | e sessenta": the hundredths of a metre, joined to it."""
        return self.text(at) in self.numbers.joined and self.text(at + 1) in self.numbers.tens

    def _inches_of(
        self, figure: SaidFigure, end: int, second: SaidFigure, unit: str | None, after: int, stop: int
    ) -> tuple[SaidFigure, int]:
        if second.value >= 12 or unit not in (None, "inch"):
            return figure, end
        if unit is None:
            half, later = self.and_a_half(SaidFigure(0.0), after)
            if half.value:
                second.value, after = second.value + half.value, later
                unit, stop = self.unit_at(after - 1, after)
            if not (second.whole or half.value) or "times" in self.language.meanings(self.text(after)):
                return figure, end
            if self._counted(after):
                return figure, end
        return SaidFigure(figure.value + second.value / 12, "ft", "length", whole=False), max(after, stop)

    def _counted(self, at: int) -> bool:
        return not self.language.meanings(self.text(at)).isdisjoint(("count", "unit"))

    def _centimetres_of(
        self,
        figure: SaidFigure,
        end: int,
        step: int,
        second: SaidFigure,
        unit: str | None,
        after: int,
        stop: int,
    ) -> tuple[SaidFigure, int]:
        token = self.tokens[step]
        if not second.whole:
            return figure, end
        if unit in ("cm", "mm"):
            return SaidFigure(figure.value + second.value * METRES[unit], "m", "length", whole=False), stop
        if unit is not None:
            return figure, end
        two_digits = (token.kind == "number" and len(token.text) == 2) or (
            second.spoken and second.value >= 10
        )
        if (token.glued or second.spoken) and two_digits:
            return SaidFigure(figure.value + second.value / 100, "m", "length", whole=False), after
        if token.glued and token.kind == "number" and len(token.text) == 3:
            return SaidFigure(figure.value + second.value / 1000, "m", "length", whole=False), after
        if two_digits and second.value >= 10 and self._is_label(after):  # "1m 60 deep"
            return SaidFigure(figure.value + second.value / 100, "m", "length", whole=False), after
        if token.glued or second.spoken:  # "1m6": six tenths or six hundredths
            return SaidFigure(figure.value, "m", "length", doubt=True), after
        return figure, end
