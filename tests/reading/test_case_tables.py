"""The case tables are whole: none is missing, thinned out, repeated or outside the contract's shape."""

from collections import Counter

import pytest
from reading_cases import FOLDER, LEAST, Case, cases, mismatch

from knowledge.reading import Gauge, Reading


@pytest.mark.parametrize("table", LEAST)
def test_table_holds_enough_cases_of_the_contracts_shape(table: str) -> None:
    assert len(cases(table)) >= LEAST[table]


def test_every_table_is_counted() -> None:
    assert {path.stem for path in FOLDER.glob("*.toml")} == LEAST.keys()


def test_no_message_is_told_twice() -> None:
    told = Counter((case.earlier, case.asked, case.text) for table in LEAST for case in cases(table))
    assert [message for message, times in told.items() if times > 1] == []


@pytest.mark.parametrize("table", LEAST)
def test_free_names_only_fields_of_the_reading(table: str) -> None:
    assert {name for case in cases(table) for name in case.free} <= Reading.model_fields.keys()


def test_ask_table_asks() -> None:
    assert [case.text for case in cases("ask") if not case.expect.questions] == []


@pytest.mark.parametrize("table", LEAST)
def test_what_is_asked_about_is_left_out_of_the_expected_reading(table: str) -> None:
    for case in cases(table):
        for name in case.expect.questions:
            value = getattr(case.expect, name)
            kept = name == "soil" and value is not None and value.kind and not value.state
            assert not value or kept, case.text


def test_comparison_sees_a_wrong_value_a_missing_one_and_one_too_many() -> None:
    expect = Reading(purpose="report", depth_m=1.6, gauges=(Gauge(unit=1, bar=41.37),))
    case = Case(text="-", expect=expect)
    assert mismatch(case, expect) == {}
    assert mismatch(case, expect.model_copy(update={"gauges": (Gauge(unit=1, bar=41.4),)})) == {}
    assert mismatch(case, expect.model_copy(update={"depth_m": 1.602})) == {"depth_m": (1.6, 1.602)}
    assert mismatch(case, expect.model_copy(update={"depth_m": None})) == {"depth_m": (1.6, None)}
    assert mismatch(case, expect.model_copy(update={"width_m": 0.9})) == {"width_m": (None, 0.9)}
    assert "gauges" in mismatch(case, expect.model_copy(update={"gauges": (Gauge(unit=2, bar=41.37),)}))
