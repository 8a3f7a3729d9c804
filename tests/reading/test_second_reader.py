"""The second reader: what it hears, and that what is shipped is whole and can be trained anew."""

import json
import math
import shutil
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from second_labels import FOLDER, labelled, stamp

from bot.reading.second import features, hearing, thresholds, weights
from bot.reading.second.hearing import SecondReader, load_reader
from knowledge.sourced import DataError

READER = load_reader()
LABELS = labelled()
LIMITS = thresholds.load_thresholds(READER.stamp)


def test_it_was_trained_on_the_labelled_texts_as_they_stand() -> None:
    assert stamp(LABELS) == READER.stamp, "labelled texts or settings changed: run python tests/train"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("T7 1.6 deep", "A12 2,35 deep"),
        ("gauge 3 at 38.5", "gauge 12 at 7"),
        ("ZANJA con agua en T4", "zanja con agua en t-11"),
        ("Ściana pękła", "sciana pekla"),
        ("don’t go in", "dont go in"),
        ("in by 10:30", "in by 7:15"),
    ],
)
def test_figures_references_accents_and_case_say_nothing(one: str, other: str) -> None:
    assert features.words(one) == features.words(other)
    assert READER.hear(one) == READER.hear(other)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("H2S 12, o2 18", ["h2s", "0", "o2", "0"]),
        ("T7: crack?!", ["t0", "crack", "?", "!"]),
        ("1.6m deep", ["0", "m", "deep"]),
        ("", []),
        ("x" * 500, ["x" * features.LONGEST_WORD]),
    ],
)
def test_words(text: str, words: list[str]) -> None:
    assert features.words(text) == words


def by_definition(text: str) -> dict[str, list[float]]:
    """Log odds worked out feature after feature, without caches."""
    model = weights.load(hearing.SHIPPED)
    found = features.buckets(text)
    rows = [model.row(each) for each in found]
    odds: dict[str, list[float]] = {"danger": [], "purpose": [], "fact": []}
    for place, column in enumerate(model.columns):
        share = sum(row[place] for row in rows) / max(1, len(found)) ** 0.5
        odds[column.of].append(column.bias + column.scale * share)
    return odds


@pytest.mark.parametrize("each", LABELS[::97], ids=lambda each: each.text[:30])
def test_the_sums_are_those_of_the_features(each: object) -> None:
    text = each.text  # type: ignore[attr-defined]
    odds = by_definition(text)
    heard = READER.hear(text)
    if len(features.words(text)) <= hearing.WINDOW:
        assert heard.danger == pytest.approx(1 / (1 + math.exp(-odds["danger"][0])))
    for shares, of in ((heard.purpose, odds["purpose"]), (READER.about(text), odds["fact"])):
        total = sum(math.exp(each) for each in of)
        assert list(shares.values()) == pytest.approx([math.exp(each) / total for each in of])


@pytest.mark.parametrize(
    ("text", "fact"),
    [
        ("the sweep's finished, paint is down over every line we found", "services"),
        ("fourteen struts in, clock says forty on each", "units"),
        ("ladders footed and lashed, good to climb", "ladder"),
        ("heap's a good two metres off the lip", "spoil"),
        ("bone dry down there", "water"),
        ("sniffer gave 20.9 and noughts", "air test"),
        ("he visto la zanja entera y la doy por segura", "inspection"),
        ("ambas cabeceiras entaboadas e travadas", "ends"),
        ("dno na metr szescdziesiat", "gap below"),
    ],
)
def test_the_fact_that_a_report_speaks_of(text: str, fact: str) -> None:
    about = READER.about(text)
    assert max(about, key=about.__getitem__) == fact


@given(st.text(max_size=300))
def test_any_text_is_heard_alike_each_time(text: str) -> None:
    heard = READER.hear(text)
    assert heard == READER.hear(text) == SecondReader(weights.load(hearing.SHIPPED)).hear(text)
    assert 0 <= heard.danger <= 1
    assert sum(heard.purpose.values()) == pytest.approx(1)


@pytest.mark.parametrize("before", [0, 30, 200])
@pytest.mark.parametrize("after", [0, 30, 200])
def test_danger_is_heard_at_any_place_of_a_long_text(before: int, after: int) -> None:
    idle = "the van is in the yard and the lads have had tea "
    text = (
        idle * (before // 10)
        + "wall has moved and cracks opening along the edge, get everyone out "
        + idle * (after // 10)
    )
    assert READER.hear(text).danger >= LIMITS.danger.possible


@pytest.mark.parametrize("text", ["T7", "T7?", "T7 T8"])
def test_a_trench_alone_says_nothing_of_danger(text: str) -> None:
    assert READER.hear(text).danger < LIMITS.danger.possible


def test_the_cache_is_bounded_and_changes_nothing() -> None:
    reader = load_reader()
    first = reader.hear("crack along the edge")
    for number in range(hearing.KEPT * 2):
        reader.hear("w" + "".join(chr(97 + number // 26**place % 26) for place in range(4)))
    assert reader._word.cache_info().currsize == reader._pair.cache_info().currsize == hearing.KEPT
    assert reader.hear("crack along the edge") == first


def test_weights_come_back_as_they_were_written() -> None:
    data = hearing.SHIPPED.read_bytes()
    assert weights.write(weights.load(hearing.SHIPPED)) == data


def spoilt(head: dict[str, object], body: bytes, what: str) -> bytes:
    columns: list[dict[str, object]] = head["columns"]  # type: ignore[assignment]
    if what == "cut":
        body = body[:-1]
    elif what == "changed":
        body = bytes([body[0] ^ 1]) + body[1:]
    elif what == "columns":
        del head["columns"]
    elif what == "scale":
        columns[0]["scale"] = 0
    elif what == "bias":
        columns[1]["bias"] = float("nan")
    elif what == "danger":
        columns[0]["of"] = "purpose"
    return b"{" if what == "head" else json.dumps(head).encode() + b"\n" + body


@pytest.mark.parametrize(
    ("what", "reason"),
    [
        ("cut", "body: "),
        ("changed", "body: not what was written"),
        ("columns", "first line: KeyError"),
        ("scale", "columns.danger: scale 0"),
        ("bias", "columns.size: "),
        ("danger", "columns: "),
        ("head", "first line: "),
    ],
)
def test_weights_that_are_not_whole_do_not_load(tmp_path: Path, what: str, reason: str) -> None:
    head, _, body = hearing.SHIPPED.read_bytes().partition(b"\n")
    file = tmp_path / "some.weights"
    file.write_bytes(spoilt(json.loads(head), body, what))
    with pytest.raises(DataError, match=f"^some.weights: {reason}"):
        load_reader(file)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("possible = 0.5", "possible = 0.1", "do not rise"),
        ("possible = 0.5", "possible = 0.55", "not on danger_curve"),
        ("open_text = ", "open = ", "danger.open_text"),
        ("supervisor = 0.8", "supervisor = 0.6", "chat: .* do not rise"),
        ("supervisor = 0.8", "supervisor = 0.75", "not on chat_curve"),
        ("taught = 0.5", "taught = 0.55", "not on fact_curve"),
        ('trained = "', 'trained = "0', "but the weights have the stamp"),
    ],
)
def test_thresholds_that_were_not_measured_do_not_load(
    tmp_path: Path, old: str, new: str, reason: str
) -> None:
    text = thresholds.SHIPPED.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file = tmp_path / "thresholds.toml"
    file.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(DataError, match=f"^thresholds.toml: .*{reason}"):
        thresholds.load_thresholds(READER.stamp, file)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ('{"text": "x", "danger": true, "purpose": "tea", "lang": "en", "writer": "a"}', "purpose"),
        (
            '{"text": "lol", "danger": true, "purpose": "chat", "lang": "en", "writer": "a"}',
            "labelled otherwise",
        ),
        ("{", "Invalid JSON"),
    ],
)
def test_a_label_that_cannot_be_used_is_named(tmp_path: Path, line: str, reason: str) -> None:
    shutil.copy(FOLDER / "en-2.jsonl", tmp_path)
    (tmp_path / "new.jsonl").write_text(line, encoding="utf-8")
    with pytest.raises(ValueError, match=rf"^new.jsonl, line 1: (.|\n)*{reason}"):
        labelled(tmp_path)


def test_trained_anew_it_hears_the_same() -> None:
    """A fit begun elsewhere, or on another machine, may round a byte otherwise: of danger that is
    less than a thousandth, of the others less than five."""
    pytest.importorskip("sklearn", reason="needs scikit-learn: pip install -e '.[train]'")
    from second_training import Texts, calibrated, of_all, shipped, train

    there = shipped(weights.load(hearing.SHIPPED))
    found = of_all(Texts.of(LABELS), there)  # there is one best fit; from near it is found sooner
    anew = SecondReader(train(LABELS, found, calibrated(found, there)))
    assert anew.stamp == READER.stamp
    for each in LABELS:
        here, there_too = READER.hear(each.text), anew.hear(each.text)
        assert there_too.danger == pytest.approx(here.danger, abs=0.001), each.text
        assert dict(there_too.purpose) == pytest.approx(dict(here.purpose), abs=0.005), each.text
        assert anew.about(each.text) == pytest.approx(READER.about(each.text), abs=0.005), each.text


@pytest.mark.measures
def test_it_hears_writers_that_it_had_not_seen_as_well_as_is_said() -> None:
    pytest.importorskip("sklearn", reason="needs scikit-learn: pip install -e '.[train]'")
    from second_curve import chat_curve, danger_curve, fact_curve
    from second_training import Texts, calibrate, shipped, unseen

    texts = Texts.of(LABELS)
    raw = unseen(texts, shipped(weights.load(hearing.SHIPPED)))
    odds = calibrate(texts, raw).odds(raw)
    for measured, stated in (
        (danger_curve(texts, odds), LIMITS.danger_curve),
        (chat_curve(texts, odds), LIMITS.chat_curve),
        (fact_curve(texts, odds), LIMITS.fact_curve),
    ):
        for point, row in zip(measured, stated, strict=True):
            assert point == pytest.approx(row.model_dump(), abs=0.002)
