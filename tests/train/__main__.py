"""Trains the second reader from tests/cases/second, and measures it by writers that it has not seen.

    pip install -e '.[test,train]' && python tests/train

Writes bot/reading/second/second.weights, and the curve in thresholds.toml beside it; the thresholds that
stand there are left as they are. Two minutes.
"""

import sys
from pathlib import Path

import tomlkit

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests" / "support"), str(ROOT)]

from second_curve import chat_curve, danger_curve, fact_curve  # noqa: E402
from second_labels import labelled  # noqa: E402
from second_training import Texts, calibrate, of_all, train, unseen  # noqa: E402

from bot.commands import progress  # noqa: E402
from bot.reading.second import hearing, thresholds  # noqa: E402
from bot.reading.second.weights import write  # noqa: E402

STEPS = 4


def main() -> None:
    """Train, measure and write."""
    with progress("Training") as tell:
        tell(0, STEPS)
        labels = labelled()
        texts = Texts.of(labels)
        tell(1, STEPS)
        found = of_all(texts)
        tell(2, STEPS)
        raw = unseen(texts, found)
        tell(3, STEPS)
        calibration = calibrate(texts, raw)
        weights = train(labels, found, calibration)
    hearing.SHIPPED.write_bytes(write(weights))
    odds = calibration.odds(raw)
    kept = tomlkit.parse(thresholds.SHIPPED.read_text(encoding="utf-8"))
    kept["trained"] = weights.stamp
    for name, points in (
        ("danger_curve", danger_curve(texts, odds)),
        ("chat_curve", chat_curve(texts, odds)),
        ("fact_curve", fact_curve(texts, odds)),
    ):
        rows = tomlkit.array().multiline(True)
        for point in points:
            row = tomlkit.inline_table()
            row.update(point)
            rows.append(row)
        kept[name] = rows
    thresholds.SHIPPED.write_text(tomlkit.dumps(kept), encoding="utf-8")
    thresholds.load_thresholds(weights.stamp)
    print(f"{len(labels)} texts, stamp {weights.stamp}: {hearing.SHIPPED.stat().st_size:,} bytes")


if __name__ == "__main__":
    main()
