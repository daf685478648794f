"""Unmet demand of a week against a law that can be worked out by hand."""

from dataclasses import replace
from datetime import date

import numpy as np
import polars as pl
import pytest

from shrinkwise.demand.line import LineDemand
from shrinkwise.demand.model import DemandModel
from shrinkwise.money.unmet import ALL_LINES, ALL_WEEK, NOT_ON_SALE, unmet_week
from shrinkwise.records.tables import Records

WEEK = date(2026, 9, 28)
NAME = "French bread"
"""It was sold out on the Monday and the Sunday of that week."""


@pytest.fixture
def geometric(sample_demand: DemandModel) -> DemandModel:
    """One line, mean 4 a day and alpha 1: P(D >= k) = (4/5)^k, which forgets what was sold."""
    n = len(sample_demand.lines[NAME].params)
    params = np.zeros(n)
    params[:7] = np.log(4.0)
    known = LineDemand(params, 1e-12 * np.eye(n))
    return replace(sample_demand, lines={NAME: known}, shock=0.0, too_thin={})


def test_a_week_by_hand(sample_records: Records, geometric: DemandModel) -> None:
    """Two sold-out days: 4 units each, 8 in the week; nothing missed with 1/5 on a day and 1/25
    in the week. A day's 95% quantile is the least k with (4/5)^(k + 1) <= 1/20, which is 13."""
    unmet = unmet_week(sample_records, geometric, WEEK)
    table = unmet.table().filter(pl.col("product") == NAME)
    by_day = {row["weekday"]: row for row in table.iter_rows(named=True)}
    assert list(by_day) == [
        "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", ALL_WEEK,
    ]  # fmt: skip
    # geometric: variance 4 x 5 = 20; 1,000 draws
    error = np.sqrt(20 / 1000)
    for day in ("monday", "sunday"):
        assert by_day[day]["unmet_units"] == pytest.approx(4, abs=4 * error)
        assert (by_day[day]["unmet_units_low"], by_day[day]["unmet_units_high"]) == (
            0, pytest.approx(13, abs=1.5),
        )  # fmt: skip
    assert by_day["tuesday"]["unmet_units"] == by_day["tuesday"]["unmet_units_high"] == 0
    assert by_day[ALL_WEEK]["unmet_units"] == pytest.approx(8, abs=4 * np.sqrt(2) * error)
    week = unmet.units[0].sum(axis=0)
    assert np.mean(week == 0) == pytest.approx(1 / 25, abs=0.025)
    margin = sample_records.profile.line(NAME).unit_margin
    assert by_day[ALL_WEEK]["missed_margin"] == pytest.approx(
        margin * by_day[ALL_WEEK]["unmet_units"]
    )


def test_lines_add_up_course_by_course(sample_records: Records, sample_demand: DemandModel) -> None:
    unmet = unmet_week(sample_records, sample_demand, WEEK)
    table = unmet.table()
    assert table.height == 8 * (len(unmet.lines) + 1)
    week = table.filter(pl.col("weekday") == ALL_WEEK)
    lines, store = week.filter(pl.col("product") != ALL_LINES), week.tail(1)
    for column in ("unmet_units", "missed_margin"):
        assert lines[column].sum() == pytest.approx(store[column].item())
        # independent misfortunes even out
        assert lines[f"{column}_high"].sum() > store[f"{column}_high"].item()
    assert store["missed_margin"].item() == pytest.approx(unmet.missed_margin.mean())


def test_a_line_that_was_not_on_sale_missed_nothing(
    sample_records: Records, sample_demand: DemandModel
) -> None:
    ledger = sample_demand.ledgers[NAME]
    none = np.zeros_like(ledger.sold)
    gone = replace(ledger, sold=none, baked=none, sold_out=ledger.is_open)
    model = replace(sample_demand, ledgers=sample_demand.ledgers | {NAME: gone})
    unmet = unmet_week(sample_records, model, WEEK)
    assert unmet.left_out == {NAME: NOT_ON_SALE}
    assert NAME not in unmet.lines
