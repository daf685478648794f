"""The stated truth: demand as said, calendar as said, lines of different kinds."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from shrinkwise.sample.line_truth import LineTruth
from shrinkwise.sample.truth import (
    TRUTH,
    day_range,
    demand_paths,
    expected_by_baker,
    mean_demand,
)

N_PATHS = 300


@pytest.mark.parametrize("line", TRUTH.lines, ids=lambda line: line.name)
def test_weekday_means_match_the_stated_mean(line: LineTruth) -> None:
    start, n_days = date(2026, 1, 5), 28 * 7
    days = day_range(start, n_days)
    mean = mean_demand(line, days)
    draws = demand_paths(line, start, n_days, N_PATHS, np.random.default_rng(5))
    variance = mean + line.dispersion * mean**2
    for weekday in range(7):
        error = np.sqrt(variance[weekday::7].sum() / N_PATHS)
        gap = draws[weekday::7].mean(axis=1).sum() - mean[weekday::7].sum()
        assert abs(gap) < 4 * error


@pytest.mark.parametrize("name", ["White loaf", "Custard eclairs", "Raisin loaf"])
def test_variance_is_that_of_the_stated_dispersion(name: str) -> None:
    line = TRUTH.line(name)
    draws = demand_paths(line, date(2026, 3, 2), 7, 20_000, np.random.default_rng(6))
    mean = mean_demand(line, day_range(date(2026, 3, 2), 7))
    stated = mean + line.dispersion * mean**2
    assert draws.var(axis=1) == pytest.approx(stated, rel=0.06)


def test_mean_at_the_start_is_the_stated_level() -> None:
    line = replace(TRUTH.line("White loaf"), season=(0.0, 0.0, 0.0, 0.0), trend_per_year=0.0)
    assert mean_demand(line, day_range(date(2024, 10, 21), 7)).mean() == pytest.approx(32.0)


def test_closed_days_have_no_demand_and_only_the_sudden_one_is_unforeseen() -> None:
    line = TRUTH.line("French bread")
    planned = [date(2024, 11, 28), date(2025, 11, 27), date(2026, 11, 26), date(2026, 12, 25)]
    sudden = list(TRUTH.sudden_closures)
    assert not mean_demand(line, planned + sudden).any()
    assert not expected_by_baker(line, planned).any()
    assert expected_by_baker(line, sudden).all()
    assert mean_demand(line, [day + timedelta(days=1) for day in planned]).all()


def test_calendar_price_and_promotion_multiply_the_demand() -> None:
    line = TRUTH.line("Burger buns")
    labor_day = date(2026, 9, 7)
    assert TRUTH.calendar_effect(labor_day) == pytest.approx(np.log(0.85))
    assert TRUTH.calendar_effect(labor_day - timedelta(days=1)) == pytest.approx(np.log(1.25))
    assert TRUTH.calendar_effect(date(2026, 9, 9)) == 0.0
    promoted = date(2026, 5, 21)
    plain = mean_demand(replace(line, promotions=()), [promoted])
    assert mean_demand(line, [promoted]) / plain == pytest.approx((3.19 / 3.99) ** -1.5)
    loaf = TRUTH.line("White loaf")
    change = date(2025, 9, 8)
    assert loaf.price(change - timedelta(days=1)) == 3.10
    assert loaf.price(change) == loaf.price(date(2027, 5, 5)) == 3.29
    assert loaf.settings.price / loaf.base_price == pytest.approx(1.06, abs=0.005)
    unchanged = mean_demand(replace(loaf, price_change=None), [change])
    assert mean_demand(loaf, [change]) / unchanged == pytest.approx((3.29 / 3.10) ** -1.1)


def test_demand_is_stated_long_after_the_logs_and_from_the_introduction_on() -> None:
    assert (mean_demand(TRUTH.line("Bagels"), day_range(date(2028, 1, 3), 14)) > 0).all()
    danish = TRUTH.line("Cheese danish")
    assert mean_demand(danish, day_range(date(2025, 10, 5), 2)) == pytest.approx([0.0, 8.0], abs=3)
    assert mean_demand(danish, [date(2025, 10, 5)]) == 0.0


def test_the_festive_loaf_peaks_before_the_year_ends() -> None:
    line = TRUTH.line("Spiced festive loaf")
    december = mean_demand(line, day_range(date(2025, 12, 1), 14)).mean()
    june = mean_demand(line, day_range(date(2026, 6, 1), 14)).mean()
    assert december > 5 * june


def test_lines_are_of_different_kinds() -> None:
    lines = TRUTH.lines
    assert len(lines) == len({line.name for line in lines}) == 16
    lives = {line.coded_life_days for line in lines}
    assert min(lives) == 1
    assert max(lives) == 6
    assert all(line.real_life_days == line.coded_life_days for line in lines)
    shares = [line.oldest_first_share for line in lines]
    assert min(shares) == 0.3
    assert max(shares) == 0.9
    assert any(line.settings.reduce_on_day is None for line in lines)
    for line in lines:
        assert 0.25 <= line.settings.dough_cost / line.settings.price <= 0.40
        assert 2.5 <= line.settings.price <= 8
    last_weeks = day_range(TRUTH.end - timedelta(days=55), 56)
    assert all(line.price(day) == line.settings.price for line in lines for day in last_weeks)


def test_a_weekday_shape_must_have_mean_one() -> None:
    with pytest.raises(ValueError, match="weekday_shape of Bagels"):
        replace(TRUTH.line("Bagels"), weekday_shape=(1.0,) * 6 + (1.2,))
