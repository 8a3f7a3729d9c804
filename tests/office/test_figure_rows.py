"""What the figures of a data file are called on their page: words for somebody who never saw the file."""

from pathlib import Path

from bot.office.figure_rows import FigureRow, rows

DATA = Path(__file__).resolve().parents[2] / "knowledge" / "data"


def of(file: str) -> list[FigureRow]:
    return rows(file, (DATA / file).read_text(encoding="utf-8"))


def test_a_figure_of_a_rule_is_called_by_what_it_limits() -> None:
    (plant,) = (row for row in of("rules.toml") if row.title.endswith("plant-heavy"))
    assert [(each.label, each.unit) for each in plant.numbers] == [
        ("plant clear, at most", "m"),
        ("plant, more than", "t"),
    ]


def test_a_kit_is_told_part_by_part_each_by_its_name() -> None:
    parts = dict(of("kits/light.toml")[0].parts)
    assert list(parts)[:6] == ["", "least bar", "rail", "board", "strut short", "strut long"]
    assert [each.label for each in parts["board"]][-1] == "board mass"
    units = {each.label: each.unit for each in of("kits/light.toml")[0].numbers}
    assert (units["board mass"], units["rail section modulus"]) == ("kg/m²", "mm³")
