"""Text to reading: the stages in order, each in a file of its own.

    tokens -> figures -> phrases -> facts, pressures, services, lengths, soil -> purpose and questions

Pure: no clock, no I/O; never raises on any text; time linear in the length of the text.
"""

from typing import Any

from bot.message import Heard, LengthUnit, Manner, PressureUnit
from bot.reading import answers, facts, lengths, pressures, ranges, services, soil
from bot.reading import purpose as purposes
from bot.reading.agreed import agreed
from bot.reading.figures import Piece, pieces_of
from bot.reading.phrases import Clause, clauses_of, mended, tagged
from bot.reading.tokens import LONGEST, LONGEST_TEXT, TAIL, Token, tokenise
from bot.reading.units import units
from bot.reading.words import Language, Words
from knowledge.reading import Reading, Soil

ORDER = (
    "depth_m", "width_m", "length_m", "soil", "water", "face", "ends", "spoil_m", "plant_m", "traffic",
    "pavement_m", "services", "gauges", "trench",
)  # fmt: skip
HAZARDS = (
    "person hurt", "strike", "gas", "fall of ground", "movement", "crack", "water", "pressure loss",
    "fluid leak", "plant close", "rain", "frost", "other",
)  # fmt: skip


def read(
    text: str, words: Words, asked: tuple[str, ...] = (), earlier: str = "", language: str = "en"
) -> Heard:
    """What a message says, and the manner it says it in.

    `asked` names the fields the sender was last asked about, the most wanted first, so that a bare "1.6"
    or "firm" answers them; `earlier` is the text that was asked about, for answers such as "the first";
    `language` is that of the conversation so far, for messages whose words do not tell.
    """
    too_long = len(text) > LONGEST_TEXT
    tokens = tokenise(text[: LONGEST_TEXT // 2] + "\n" + text[-LONGEST_TEXT // 2 :] if too_long else text)
    too_long = too_long or len(tokens) > LONGEST
    if len(tokens) > LONGEST:
        tokens = tokens[: LONGEST - TAIL] + tokens[-TAIL:]
    spoken = words.languages_of((token.text for token in tokens if token.kind == "word"), language)
    heard = []
    for one in spoken:
        message = _Message(tokens, one)
        heard.append(
            message.heard(message.hazards_only() if too_long else message.reading(asked, earlier, words))
        )
    return agreed(heard)


class _Message:
    """One message on its way through the stages."""

    def __init__(self, tokens: list[Token], language: Language) -> None:
        self.language = language
        self.pieces: list[Piece] = tagged(pieces_of(mended(tokens, language), language), language)
        self.clauses: list[Clause] = clauses_of(self.pieces, language)
        self.imperial = lengths.is_imperial(self.pieces)
        self.found = facts.find(self.clauses, language)
        self.taken: tuple[tuple[str, str], ...] = ()
        self.unit: str | None = None
        self.pressure: str | None = None
        self.doubtful: set[str] = set()

    def hazards_only(self) -> Reading:
        """A message too long to be acted on: only what is dangerous in it."""
        hazards = self._hazards(sizing=False)
        return Reading.model_validate(
            {"purpose": "report" if hazards else "unclear", "hazards": hazards, "unread": self._unread()}
        )

    def reading(self, asked: tuple[str, ...], earlier: str, words: Words) -> Reading:
        """The whole reading."""
        pieces = self.pieces
        self._set_aside()
        refs, same_as = self._references()
        allow, code = self._allowance()
        gauges = pressures.read(pieces)
        set_ = units(self.clauses, self.language, self.found)
        ranges.merge(pieces, self.language.small)
        met = services.met(pieces, self.imperial)
        self._elsewhere()
        measured = lengths.measure(pieces, self.language, self.imperial)
        ground = soil.told(pieces, self.language)
        self.taken = tuple(ground.taken)
        values: dict[str, Any] = {}
        doubts = {lengths.FIELDS[name] for name in measured.doubts}
        answered = self._answers(asked, earlier, measured, ground, values, words)
        doubts |= {lengths.FIELDS[name] for name in measured.doubts}
        for name, value in measured.values.items():
            if name not in measured.doubts:
                values.setdefault(lengths.FIELDS[name], value)
        if ground.soil is not None:
            values["soil"] = ground.soil
        self._facts(values, doubts)
        done = self.found.of("done")
        undone = [what for what in self.found.of("undone") if what not in done]
        length_like = [p for p in measured.loose if self._like_length(p)]
        details = bool({"depth_m", "width_m", "length_m", "soil"} & (set(values) | doubts)) or ground.doubt
        hazards = self._hazards(sizing=details and not measured.dug)
        if gauges.fell and "pressure loss" not in hazards:
            hazards.append("pressure loss")
        only_dug = measured.dug and not ({"width_m", "length_m", "soil"} & set(values))
        evidence = purposes.Evidence(
            hazard=bool(hazards),
            allowed=allow or code is not None,
            entry="purpose entry" in self.found.meanings,
            sizes=(details and not only_dug) or self._pair_of_figures(length_like) or (bool(asked) and ground.state_only is not None),
            details=details and not only_dug,
            dug=measured.dug,
            reports=bool(
                done or undone or gauges.gauges or gauges.doubt or set_ is not None or values or met.services
                or "seen" in self.found.meanings or doubts
            ),
            answers=bool(asked) and "gauges" not in asked,
        )  # fmt: skip
        purpose = purposes.purpose(self.clauses, evidence)
        again = self._again(purpose, evidence)
        if gauges.doubt:
            doubts.add("gauges")
        if met.doubt:
            doubts.add("services")
        if met.water:
            doubts.add("water")
        if len(refs) > 1 and same_as is None:
            doubts.add("trench")
            for name in list(values):
                if evidence.details or name.endswith("_m"):
                    del values[name]
        if ground.doubt and (purpose == "size" or "soil" in values):
            doubts.add("soil")
        self.doubtful = set(doubts)
        if purpose == "size":
            untold = {name for name in ("depth_m", "width_m", "soil") if name not in values}
            if length_like:
                self.doubtful |= untold & {"depth_m", "width_m"}
            if not asked:
                doubts |= untold
        for field in asked:
            got = field in values or (field == "trench" and refs) or (field == "gauges" and gauges.gauges)
            if not got and not hazards and purpose in ("size", "unclear", "report") and field not in answered:
                doubts.add(field)
        for name in doubts:
            if name != "soil":
                values.pop(name, None)
        self.unit, self.pressure = measured.unit, gauges.unit
        return Reading.model_validate(
            {
                **values,
                "purpose": purpose,
                "trench": refs[0] if refs and "trench" not in doubts else None,
                "services": [] if met.doubt else met.services,
                "gauges": [] if gauges.doubt else gauges.gauges,
                "units_set": set_,
                "done": done,
                "undone": undone,
                "hazards": sorted(hazards, key=HAZARDS.index),
                "questions": sorted(doubts, key=ORDER.index),
                "unread": self._unread(),
                "surcharge_kpa": gauges.surcharge_kpa,
                "allow": True if allow else None,
                "code": code,
                "again": again,
                "same_as": same_as,
            }
        )

    # --- parts ---

    def _set_aside(self) -> None:
        """Marks figures that measure nothing: counts, job numbers, times."""
        pieces = self.pieces
        for at, piece in enumerate(pieces):
            figure = piece.figure
            if figure is None:
                continue
            if figure.kind in ("noise", "other", "ordinal"):
                piece.used = figure.kind != "ordinal"
                continue
            after = pieces[at + 1] if at + 1 < len(pieces) else None
            if figure.kind == "bare" and after is not None and "count" in after.tags:
                piece.used = not any("unit_t" in tag for tag in after.tags)
                continue
            before = at - 1
            while before >= 0 and (pieces[before].text in (":", ".", "-", "#") or "number" in pieces[before].tags) and at - before < 4:
                before -= 1
            if before >= 0 and "reference" in pieces[before].tags and figure.kind == "bare":
                piece.used = True

    def _references(self) -> tuple[list[str], str | None]:
        """The trench references of the message, each once, and the second where two are said to be one."""
        pieces = self.pieces
        refs: list[str] = []
        for at, piece in enumerate(pieces):
            if piece.kind == "ref":
                if piece.text not in refs:
                    refs.append(piece.text)
            elif "trench" in piece.tags:
                number = self._trench_number(at + 1)
                if number is not None and number not in refs:
                    refs.append(number)
        if len(refs) == 2:
            named = [at for at, piece in enumerate(pieces) if piece.kind == "ref"]
            between = pieces[named[0] : named[-1]] if named else []
            bare = all(p.kind == "ref" or p.kind == "mark" or p.tags or p.text in self.language.small for p in pieces)
            if bare and len(pieces) <= 8 and any("rename" in p.tags for p in (*between, *pieces[: named[0] if named else 0])) and not any(p.figure for p in pieces):
                return refs, refs[1]
        return refs, None

    def _trench_number(self, at: int) -> str | None:
        """"trench 7", "trench no 4": a short whole number that no unit or label follows."""
        pieces = self.pieces
        while at < len(pieces) and ("number" in pieces[at].tags or pieces[at].text in (".", "#", "-")):
            at += 1
        if at >= len(pieces):
            return None
        figure = pieces[at].figure
        if figure is None or figure.kind != "bare" or not figure.whole or pieces[at].used or figure.value >= 100:
            return None
        after = pieces[at + 1] if at + 1 < len(pieces) else None
        if after is not None and not pieces[at].glued and (
            after.tags.label is not None or {"times", "range"} & set(after.tags) or after.text in ("*", "/", "-")
        ):
            return None
        pieces[at].used = True
        return f"T{int(figure.value)}"

    def _allowance(self) -> tuple[bool, str | None]:
        """"allow T7", "T7 code 4821"."""
        pieces = self.pieces
        code = None
        for at, piece in enumerate(pieces):
            if "code" in piece.tags:
                for one in pieces[at + 1 : at + 4]:
                    if one.figure is not None and one.raw.isdigit():
                        code, one.used = one.raw, True
                        break
        first = next((piece for piece in pieces if piece.kind == "word" and piece.text not in self.language.small or "allow" in piece.tags), None)
        allow = first is not None and "allow" in first.tags and first.state in ("", "maybe") and not self.clauses[0].question
        if allow and code is None:
            for piece in pieces:
                if piece.figure is not None and piece.figure.kind in ("bare", "noise") and piece.raw.isdigit() and len(piece.raw) >= 4:
                    code, piece.used = piece.raw, True
                    break
        return allow or code is not None, code

    def _elsewhere(self) -> None:
        """Figures and soil of another trench, another day or a supposition are not of this one."""
        for clause in self.clauses:
            away = any("elsewhere" in piece.tags for piece in clause.pieces)
            for piece in clause.pieces:
                figure_or_soil = piece.figure is not None or bool(piece.tags.ground or piece.tags.mixed)
                if figure_or_soil and (away or piece.state == "supposed"):
                    piece.used = piece.figure is not None
                    piece.state = "supposed"
            if any("exist" in piece.tags for piece in clause.pieces[:4]):
                for piece in clause.pieces:
                    if piece.tags.ground or piece.tags.mixed:
                        piece.state = "supposed"

    def _answers(
        self,
        asked: tuple[str, ...],
        earlier: str,
        measured: lengths.Measured,
        ground: soil.Told,
        values: dict[str, Any],
        words: Words,
    ) -> set[str]:
        """What an answer gives beyond what it says by itself."""
        if not asked:
            return set()
        answered: set[str] = set()
        if earlier:
            before = _Message(tokenise(earlier[:LONGEST_TEXT])[:LONGEST], self.language)
            before._set_aside()
            before._references()
            ranges.merge(before.pieces, self.language.small)
            old = lengths.measure(before.pieces, self.language, before.imperial)
            figures = [lengths.plain_metres(p.figure, before.imperial) for p in old.loose if p.figure is not None]
            known = [round(value, 3) for value in figures if value is not None]
            values.update(answers.which(self.pieces, asked, known))
            if ground.soil is None and ground.state_only is not None and "soil" in asked:
                kind = soil.told(before.pieces, self.language).soil
                if kind is not None and ground.state_only in soil.STATES.get(kind.kind or "", ()):
                    ground.soil = Soil.model_validate({"kind": kind.kind, "state": ground.state_only})
                    ground.doubt = False
            if len(known) == 2 and asked[:2] == ("depth_m", "width_m") and not values:
                field = answers.bare(self.pieces, measured, asked, self.imperial)
                depth = measured.values.get("depth")
                if field == "depth_m" and depth in known:
                    values["width_m"] = known[1] if depth == known[0] else known[0]
        if not values:
            answers.bare(self.pieces, measured, asked, self.imperial)
        for field in asked:
            word = answers.said_of(self.pieces, field)
            if word is not None and field not in values:
                values[field] = word
        return answered

    def _facts(self, values: dict[str, Any], doubts: set[str]) -> None:
        """Water, face, ends, traffic and the like, as the facts say; two values are asked about."""
        for name in ("water", "face", "ends"):
            said = self.found.of(name)
            said = [one for one in said if not (name == "water" and one == "dry" and len(said) > 1)]
            if len(said) == 1:
                values[name] = said[0]
            elif len(said) > 1:
                if name == "water":
                    values[name] = max(said, key=("dry", "damp", "seeping", "standing").index)
                else:
                    doubts.add(name)
        for field in ("traffic", "disturbed", "fissured"):
            said = self.found.of(field)
            if len(said) == 1:
                values[field] = said[0] == "yes"
        for name in self.found.of("unclear"):
            if name not in values:
                doubts.add(name)

    def _hazards(self, *, sizing: bool) -> list[str]:
        hazards = self.found.of("hazard")
        if not sizing:
            hazards = list(dict.fromkeys([*hazards, *self.found.of("noticed")]))
        return hazards

    def _like_length(self, piece: Piece) -> bool:
        figure = piece.figure
        return figure is not None and figure.kind in ("length", "bare") and not piece.used and not figure.doubt

    def _pair_of_figures(self, figures: list[Piece]) -> bool:
        """"1.6 x 0.9": figures joined as the sizes of a trench are."""
        for at, piece in enumerate(self.pieces[:-2]):
            if piece in figures and self.pieces[at + 2] in figures and "times" in self.pieces[at + 1].tags:
                return True
        return False

    def _again(self, purpose: str, evidence: purposes.Evidence) -> bool | None:
        """"again", or nothing but a question mark."""
        content = [piece for piece in self.pieces if piece.kind != "mark"]
        if not content:
            return True if any(piece.text == "?" for piece in self.pieces) else None
        told = [piece for piece in content if piece.tags or piece.text not in self.language.small]
        only = all("again" in piece.tags or piece.kind == "ref" for piece in told)
        return True if told and only and any("again" in piece.tags for piece in told) and purpose == "unclear" else None

    def _unread(self) -> list[str]:
        """Words with content that were not used, each once."""
        left = [
            piece.raw
            for piece in self.pieces
            if (piece.kind == "word" and not piece.tags and not piece.used and piece.text not in self.language.words)
            or (piece.figure is not None and not piece.used and piece.figure.kind != "ordinal")
        ]
        return list(dict.fromkeys(left))[:40]

    def heard(self, reading: Reading) -> Heard:
        """The reading with the sender's manner."""
        shown: dict[str, LengthUnit] = {"m": "m", "mm": "mm", "cm": "cm", "ft": "ft", "inch": "in"}
        pressure: PressureUnit | None = self.pressure if self.pressure in ("bar", "psi", "MPa") else None  # type: ignore[assignment]
        manner = Manner(
            language=self.language.code,
            lengths=shown.get(self.unit or ""),
            pressure=pressure,
            taken=self.taken,
        )
        doubtful = tuple(name for name in reading.questions if name in self.doubtful)
        return Heard(reading=reading, manner=manner, doubtful=doubtful)
