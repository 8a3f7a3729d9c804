"""What a reply tells somebody to text is read as just that, once its blanks are filled."""

import re

import pytest

from bot.config.basis import Basis

BASIS = Basis.load()
FIGURES = {"units": "40", "gap below": "1.6", "spoil": "1.5"}
TELLS = {
    "services": lambda r: "services located" in r.done,
    "units": lambda r: "units set" in r.done and [g.bar for g in r.gauges] == [40.0],
    "gap below": lambda r: r.depth_m == 1.6,
    "ladder": lambda r: "ladder" in r.done,
    "spoil": lambda r: r.spoil_m == 1.5,
    "ends": lambda r: {"ends battered", "ends supported"} & {*r.done} or r.ends == "open",
    "water": lambda r: r.water in ("dry", "standing"),
    "air test": lambda r: "air test" in r.done and r.air.oxygen_pct == 20.9,
    "inspection": lambda r: "inspection" in r.done or r.verdict == "not safe",
}


def cases() -> list[tuple[str, str, str]]:
    found = []
    for language, catalog in BASIS.catalogs.items():
        if "-" in language:
            continue
        for fact, said in catalog.taught.items():
            first, *others = said.split(" / ")
            stem = re.split(r"[, ]", first)[0] if fact in ("ends", "inspection") else ""
            texts = [
                first,
                *(f"{stem}, {other}" if fact == "inspection" else f"{stem} {other}" for other in others),
            ]
            found += [(language, fact, text.strip()) for text in texts]
    return found


@pytest.mark.parametrize(("language", "fact", "text"), cases())
def test_each_is_read_whole_as_that_fact(language: str, fact: str, text: str) -> None:
    figures = iter(["20.9", "0", "0", "0"] if fact == "air test" else [FIGURES.get(fact, "")])
    told = f"T7 {re.sub('__', lambda _: next(figures), text)}"
    reading = BASIS.readers.read(told, supervisor=True, language=language).reading
    assert reading.whole, (told, reading.left_over)
    assert TELLS[fact](reading), (told, reading)
