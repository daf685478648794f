"""What is fitted to the sample store's logs against the truth that made them."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.errors import EvidenceError
from shrinkwise.records.tables import Records
from shrinkwise.sample.truth import TRUTH, mean_demand


def test_weekday_means_recover_the_truth(sample_demand: DemandModel) -> None:
    first = sample_demand.calendar.origin - timedelta(days=181)
    dates = [first + timedelta(days=day) for day in range(182)]
    paths = sample_demand.paths(first, 182, n_paths=400, seed=1)
    covered, ratios = [], []
    for line in TRUTH.lines:
        truth = mean_demand(line, dates)
        for weekday in range(7):
            days = paths.is_open & (paths.weekday == weekday)
            fitted = paths.means[line.name][days].mean(axis=0)
            low, high = np.quantile(fitted, (0.05, 0.95))
            mean = truth[days].mean()
            covered.append(low <= mean <= high)
            ratios.append(fitted.mean() / mean)
    # 112 dependent intervals of 90%; they allow for a drift that this truth has not
    assert 0.85 <= np.mean(covered) <= 0.99
    assert abs(np.mean(ratios) - 1) < 0.02


def test_sold_out_days_count_as_floors(sample_records: Records, sample_demand: DemandModel) -> None:
    """French bread was sold out on two days in five: its mean sales are not its demand."""
    line = TRUTH.line("French bread")
    ledger = sample_demand.ledgers[line.name]
    days = ledger.is_open
    truth = mean_demand(line, ledger.dates)[days].mean()
    fitted = sample_demand.expected(line.name, ledger.dates)[days].mean()
    naive = ledger.sold[days].mean()
    assert ledger.sold_out.mean() > 0.3
    assert naive < 0.93 * truth
    assert fitted == pytest.approx(truth, rel=0.03)


def test_paths_have_the_spread_of_the_truth(sample_demand: DemandModel) -> None:
    """A year of errors tells a line's dispersion to 15%: one line may be off, all lines not."""
    start = sample_demand.calendar.origin + timedelta(days=1)
    dates = [start + timedelta(days=day) for day in range(56)]
    paths = sample_demand.paths(start, 56, 500, seed=3)
    ratios = {}
    for line in TRUTH.lines:
        assert paths.units[line.name].dtype == np.int16
        mu = mean_demand(line, dates)
        days = paths.is_open & (mu > 0)
        mean, units = paths.means[line.name][days], paths.units[line.name][days]
        noise = ((units - mean) ** 2).sum() / (mean + line.dispersion * mean**2).sum()
        ratios[line.name] = noise
    print("\nvariance over the truth's: " + ", ".join(f"{r:.2f}" for r in ratios.values()))
    assert np.mean(list(ratios.values())) == pytest.approx(1, abs=0.06)
    assert all(0.6 < ratio < 1.4 for ratio in ratios.values())


def test_same_seed_same_paths_whatever_other_lines_there_are(
    sample_records: Records, sample_demand: DemandModel
) -> None:
    start = date(2026, 10, 5)
    name = "Bagels"
    alone = replace(sample_demand, lines={name: sample_demand.lines[name]})
    one, other = (model.paths(start, 14, 50, seed=4) for model in (alone, sample_demand))
    assert np.array_equal(one.units[name], other.units[name])
    assert not np.array_equal(
        other.units[name], sample_demand.paths(start, 14, 50, seed=5).units[name]
    )


def test_closed_days_have_no_demand(sample_demand: DemandModel) -> None:
    thanksgiving = date(2026, 11, 26)
    paths = sample_demand.paths(thanksgiving, 1, 20, seed=1)
    assert not paths.is_open[0]
    assert all(not units.any() for units in paths.units.values())


def test_a_planned_promotion_lifts_the_demand(sample_demand: DemandModel) -> None:
    days = [date(2026, 11, 20), date(2026, 11, 13)]
    promoted, usual = sample_demand.expected("Dinner rolls", days)
    truth = mean_demand(TRUTH.line("Dinner rolls"), days)
    assert promoted / usual == pytest.approx(truth[0] / truth[1], rel=0.15)
    assert promoted > 1.2 * usual


def test_a_line_with_too_few_days_is_left_out_with_its_reason(sample_records: Records) -> None:
    last = sample_records.last_date
    early = pl.col("date") > last - timedelta(days=4)
    thin = {
        table: getattr(sample_records, table).filter((pl.col("product") != "Bagels") | early)
        for table in ("sales", "bakes")
    }
    model = fit_demand(replace(sample_records, **thin))
    assert "4 days on sale" in model.too_thin["Bagels"]
    assert "Bagels" not in model.lines


def test_records_of_a_few_days_are_refused(sample_records: Records) -> None:
    few = pl.col("date") > sample_records.last_date - timedelta(days=3)
    short = {table: getattr(sample_records, table).filter(few) for table in ("sales", "bakes")}
    with pytest.raises(EvidenceError, match="No line has 7 days on sale"):
        fit_demand(replace(sample_records, **short))


def test_a_line_that_has_ended_is_left_out(sample_records: Records) -> None:
    last = sample_records.last_date - timedelta(days=40)
    there = (pl.col("product") != "Bagels") | (pl.col("date") <= last)
    logs = ("sales", "bakes", "disposals", "markdowns", "counts")
    ended = {log: getattr(sample_records, log).filter(there) for log in logs}
    model = fit_demand(replace(sample_records, **ended))
    assert list(model.too_thin) == ["Bagels"]
    assert model.too_thin["Bagels"].startswith(f"neither baked nor sold since {last}; take it out")
    assert "Bagels" not in model.lines
