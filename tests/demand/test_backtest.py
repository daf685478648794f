"""Past weeks predicted from the days before them, and never from themselves."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from shrinkwise.demand.backtest import (
    ALL_LINES,
    QUANTILE_COLUMNS,
    Backtest,
    backtest_demand,
)
from shrinkwise.errors import EvidenceError
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

WEEKS = 6
SHARED = ("product", "date")


@pytest.fixture(scope="module")
def records(small_folder: Path) -> Records:
    return read_records(small_folder)


@pytest.fixture(scope="module")
def tested(records: Records) -> Backtest:
    return backtest_demand(records, WEEKS)


def test_it_predicts_the_last_whole_weeks(tested: Backtest) -> None:
    """The records end on Sunday, 4 October 2026."""
    assert (tested.first, tested.last) == (date(2026, 8, 24), date(2026, 10, 4))
    counts = tested.days.group_by("product").len()
    assert counts["len"].to_list() == [7 * WEEKS] * 3
    quantiles = tested.days.select(QUANTILE_COLUMNS).to_numpy()
    assert (np.diff(quantiles, axis=1) >= 0).all()
    assert (quantiles[:, -1] > quantiles[:, 0]).all()


def test_a_week_is_not_known_before_it_began(records: Records, tested: Backtest) -> None:
    """Ten times the sales in the last week change no prediction of it, and no earlier one."""
    last_week = pl.col("date") >= date(2026, 9, 28)
    more = pl.when(last_week).then(pl.col("units") * 10).otherwise(pl.col("units"))
    changed = backtest_demand(replace(records, sales=records.sales.with_columns(units=more)), 2)
    columns = [*SHARED, *QUANTILE_COLUMNS]
    before = tested.days.filter(pl.col("date") >= changed.first).select(columns)
    assert changed.days.select(columns).sort(SHARED).equals(before.sort(SHARED))
    assert not changed.days["units"].equals(tested.days.tail(len(changed.days))["units"])


def test_scores_count_all_days_and_add_up(tested: Backtest) -> None:
    scores = tested.scores()
    everything = scores.row(0, named=True)
    assert (everything["product"], everything["month"]) == (ALL_LINES, "")
    lines = scores.filter(pl.col("product") != ALL_LINES)
    months = scores.filter(pl.col("month") != "")
    for part in (lines, months):
        for column in ("days", "sold_out_days", "units"):
            assert part[column].sum() == everything[column]
    assert everything["days"] == tested.days.height
    assert everything["sold_out_days"] == tested.days["sold_out"].sum() > 0
    assert months["month"].to_list() == ["2026-08", "2026-09", "2026-10"]
    weighted = (lines["loss_pct"] * lines["units"]).sum() / everything["units"]
    assert everything["loss_pct"] == pytest.approx(weighted)


def test_the_interval_is_held_against_days_that_were_not_sold_out(tested: Backtest) -> None:
    told = tested.days.filter(~pl.col("sold_out"))
    inside = told["units"].is_between(told["q10"], told["q90"]).mean()
    assert tested.scores()["in_80_pct"][0] == pytest.approx(100 * inside)


def test_no_more_could_be_sold_than_there_was(tested: Backtest) -> None:
    days = tested.days
    assert (days["units"] <= days["there"]).all()
    sold_out = days["sold_out"]
    assert (days["units"] == days["there"]).filter(sold_out).all()
    assert (days["units"] < days["there"]).filter(~sold_out).all()


def test_it_is_better_than_the_same_weekday(tested: Backtest) -> None:
    everything = tested.scores().row(0, named=True)
    print(f"\n{everything}")
    assert everything["loss_pct"] < everything["loss_same_weekday_pct"]
    assert 70 < everything["in_80_pct"] < 95


def test_records_that_do_not_reach_back_are_refused(records: Records) -> None:
    with pytest.raises(EvidenceError, match=r"at most --weeks 3\d can be"):
        backtest_demand(records, 100)
    few = records.sales.filter(pl.col("date") > date(2026, 9, 1))
    with pytest.raises(EvidenceError, match="none can be"):
        backtest_demand(replace(records, sales=few), 1)
