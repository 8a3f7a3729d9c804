"""Numbers in digits or words: "1.6", "1,600", "5 1/2", "one point six", "two and a half", "half a metre"."""

from bot.language.lexicon import Language
from bot.language.tokens import Token
from bot.reading.text.spans import SaidFigure

PARTS = frozenset((2, 3, 4, 8, 16, 32))  # what a written fraction may divide by


class NumberReader:
    """Reads the number that starts at a place; gives it with the place after it."""

    def __init__(self, tokens: list[Token], language: Language) -> None:
        self.tokens = tokens
        self.language = language
        self.units = language.units
        self.numbers = language.vocabulary.numbers

    def text(self, at: int) -> str:
        """The text at a place; "" beyond the ends."""
        return self.tokens[at].text if 0 <= at < len(self.tokens) else ""

    def number(self, at: int) -> tuple[SaidFigure, int] | None:
        token = self.tokens[at]
        if token.kind == "number":
            figure, end = self.digits(at)
        else:
            spoken = self.spoken(at)
            if spoken is None:
                return None
            figure, end = spoken
        return self.and_a_half(figure, end)

    def digits(self, at: int) -> tuple[SaidFigure, int]:
        text = self.tokens[at].text
        figure = SaidFigure(0.0, whole=text.isdigit())
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
            return SaidFigure(figure.value / part_of, whole=False), at + 3
        top = end + 1 if self.text(end) == "-" and self.tokens[end].glued else end  # "4-1/2"
        if top < len(self.tokens) and self.tokens[top].kind == "number" and self.tokens[top].text.isdigit():
            part_of = self.fraction(top)
            if part_of is not None and int(self.tokens[top].text) < part_of:
                figure.value += int(self.tokens[top].text) / part_of
                figure.whole = False
                end = top + 3
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

    def spoken(self, at: int) -> tuple[SaidFigure, int] | None:
        numbers, tokens = self.numbers, self.tokens
        text = tokens[at].text
        if text in numbers.half or text in numbers.quarter:
            return self.part(at, 0.5 if text in numbers.half else 0.25)
        if text in numbers.one and self.text(at + 1) not in numbers.point:
            follows = self.text(at + 1)
            if follows in numbers.half or follows in numbers.quarter:
                return self.part(at + 1, 0.5 if follows in numbers.half else 0.25)
            if follows in numbers.hundred:
                return SaidFigure(100.0, spoken=True), at + 2
            if follows in self.units and len(follows) > 2:
                return SaidFigure(1.0, spoken=True), at + 1
            return None
        figure = SaidFigure(0.0, spoken=True)
        if at and text in numbers.small and "unit" in self.language.meanings(tokens[at - 1].text):
            figure.value = float(numbers.small[text])  # "unit one six hundred psi"
            return figure, at + 1
        end = at
        if text in numbers.one:
            figure.value, end = 1.0, at + 1  # "um virgula seis"
        elif text not in numbers.point:
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
            else:
                figure.doubt = True  # "two point for"
            if text in numbers.point and at and tokens[at - 1].text in numbers.misheard:
                figure.doubt = True  # "too point four"
        elif end < len(tokens) and (self.text(end) in numbers.small or self.text(end) in numbers.tens):
            figure.doubt = True  # "one six", "nine fifty"
            end = self.spoken_whole(end)[1]
        return (figure, end) if end > at else None

    def part(self, at: int, value: float) -> tuple[SaidFigure, int] | None:
        """Half or a quarter of a unit: "half a metre". Without a unit after it, nothing."""
        end = at + 1
        while self.text(end) in self.numbers.one or "of" in self.language.meanings(self.text(end)):
            end += 1
        return (SaidFigure(value, whole=False, spoken=True), end) if self.text(end) in self.units else None

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

    def and_a_half(self, figure: SaidFigure, end: int) -> tuple[SaidFigure, int]:
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
        if self.numbers.small.get(text) == 3 and self.text(step + 1) in self.numbers.quarter:
            figure.value += 0.75
            figure.whole = False
            return figure, step + 2
        part_of = self.fraction(step) if text.isdigit() else None
        if part_of is not None and int(text) < part_of:
            figure.value += int(text) / part_of
            figure.whole = False
            return figure, step + 3
        return figure, end
