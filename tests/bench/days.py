"""Crews' days: what the fitter and the supervisor of a site text of one trench.

Crews, streets and figures are invented; the shares of kinds are what a crew texts on a usual day (common
practice, no source).
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

Kind = Literal["sizing", "report", "entry", "other", "hazard"]
KINDS: tuple[Kind, ...] = ("sizing", "report", "entry", "other")
LANGUAGES = ("en", "en", "en", "es", "pl")  # three crews of five text in English
SUPERVISOR, FITTER = "S", "F"


@dataclass(frozen=True)
class Step:
    """One text of the day: so many minutes after it began. `says` has the text in each language."""

    kind: Kind
    who: str
    minute: int
    says: dict[str, str]


def _step(kind: Kind, who: str, minute: int, en: str, es: str, pl: str) -> Step:
    return Step(kind, who, minute, {"en": en, "es": es, "pl": pl})


# 3 sizings, 12 reports, 3 questions of entry and 2 others in 20.
DAY = (  # lines as long as their texts
    _step("sizing", "F", 0, "{ref} depth {depth:.2f}m width {width:.2f}m length {length:.1f}m firm clay dry",
          "{ref} profundidad {depth:.2f}m ancho {width:.2f}m largo {length:.1f}m arcilla firme seco",
          "{ref} glebokosc {depth:.2f}m szerokosc {width:.2f}m dlugosc {length:.1f}m twarda glina sucho"),
    _step("report", "F", 12, "{ref} services located", "{ref} servicios localizados",
          "{ref} uzbrojenie zlokalizowane"),
    _step("sizing", "F", 25,
          "{ref} depth {deeper:.2f}m width {width:.2f}m length {length:.1f}m firm clay dry",
          "{ref} profundidad {deeper:.2f}m ancho {width:.2f}m largo {length:.1f}m arcilla firme seco",
          "{ref} glebokosc {deeper:.2f}m szerokosc {width:.2f}m dlugosc {length:.1f}m twarda glina sucho"),
    _step("report", "F", 50, "{ref} all units set all at 40 bar",
          "{ref} todos los puntales puestos todos a 40 bar",
          "{ref} wszystkie rozpory ustawione wszystkie 40 bar"),
    _step("report", "F", 62, "{ref} dug to {deeper:.2f}m", "{ref} excavado a {deeper:.2f}m",
          "{ref} wykopane do {deeper:.2f}m"),
    _step("report", "F", 66, "{ref} ladder in", "{ref} escalera puesta", "{ref} drabina wstawiona"),
    _step("report", "F", 70, "{ref} spoil back 1.5m", "{ref} acopio retirado 1.5m",
          "{ref} urobek odsuniety 1.5m"),
    _step("report", "F", 74, "{ref} ends battered", "{ref} extremos ataluzados", "{ref} konce skarpowane"),
    _step("other", "F", 76, "status", "estado", "status"),
    _step("report", "F", 80, "{ref} no water", "{ref} sin agua", "{ref} bez wody"),
    _step("report", "F", 84, "{ref} air test ok", "{ref} prueba de aire ok", "{ref} test powietrza ok"),
    _step("entry", "F", 90, "can we go in {ref}?", "podemos entrar en {ref}?", "mozna wchodzic do {ref}?"),
    _step("report", "S", 100, "{ref} inspected ok", "{ref} inspeccionada ok", "{ref} sprawdzony ok"),
    _step("entry", "S", 103, "can they go in {ref}?", "pueden entrar en {ref}?",
          "czy moga wchodzic do {ref}?"),
    _step("report", "F", 190, "{ref} all at 39 bar", "{ref} todos a 39 bar", "{ref} wszystkie 39 bar"),
    _step("other", "F", 260, "why {ref}", "por que {ref}", "dlaczego {ref}"),
    _step("report", "F", 310, "{ref} no water", "{ref} sin agua", "{ref} bez wody"),
    _step("sizing", "F", 330,
          "{ref} depth {deeper:.2f}m width {wider:.2f}m length {length:.1f}m firm clay dry",
          "{ref} profundidad {deeper:.2f}m ancho {wider:.2f}m largo {length:.1f}m arcilla firme seco",
          "{ref} glebokosc {deeper:.2f}m szerokosc {wider:.2f}m dlugosc {length:.1f}m twarda glina sucho"),
    _step("report", "F", 345, "{ref} all at 40 bar", "{ref} todos a 40 bar", "{ref} wszystkie 40 bar"),
    _step("entry", "F", 350, "can we go in {ref}?", "podemos entrar en {ref}?", "mozna wchodzic do {ref}?"),
)  # fmt: skip
DANGER = _step(
    "hazard", "F", 0, "{ref} crack along the face", "{ref} grieta en la pared", "{ref} pekniecie na scianie"
)
AFTER_DANGER = _step("report", "S", 35, "{ref} inspected ok", "{ref} inspeccionada ok", "{ref} sprawdzony ok")


@dataclass(frozen=True)
class Crew:
    """One crew on one day: its site by number, its language, its trench."""

    site: int
    language: str
    ref: str
    figures: dict[str, float]

    @classmethod
    def of(cls, site: int, day: int = 1) -> "Crew":
        """The crew of a site: the same one for the same number."""
        chance = random.Random(site * 1_000 + day)
        depth, width = chance.randrange(110, 180) / 100, chance.randrange(60, 110) / 100
        figures = {
            "depth": depth,
            "deeper": depth + 0.05,
            "width": width,
            "wider": width + 0.05,
            "length": chance.randrange(40, 120) / 10,
        }
        return cls(site, LANGUAGES[site % len(LANGUAGES)], f"T{day}", figures)

    def text(self, step: Step) -> str:
        """What it texts at one step of its day."""
        return step.says[self.language].format(ref=self.ref, **self.figures)


def steps(chance: random.Random, dangers: float) -> Iterator[tuple[Step, float]]:
    """The steps of one day with their minutes, each a little early or late; a share of days has a danger."""
    late = 0.0
    for step in DAY:
        late += chance.uniform(-1, 4)
        yield step, step.minute + late
    if chance.random() < dangers:
        at = chance.uniform(110, 320)
        yield DANGER, at
        yield AFTER_DANGER, at + AFTER_DANGER.minute
