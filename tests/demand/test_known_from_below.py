"""Demand of which nothing is known but a floor."""

from dataclasses import replace

import numpy as np
import pytest
from ledgers import ledger_of

from shrinkwise.demand.effects import central, covariance, effects_of
from shrinkwise.demand.line import LineDays, fit_line
from shrinkwise.demand.pooling import LinePrior
from shrinkwise.profile.line import Line

LINE = Line(name="Rye", category="breads", price=4, dough_cost=1, shelf_life_days=1)
N_DAYS = 182


@pytest.fixture(scope="module")
def prior() -> LinePrior:
    layout = effects_of(())
    parts = ("everywhere", "category", "store", "line")
    return LinePrior(central(layout), np.sum([covariance(layout, of) for of in parts], axis=0))


def days_of(sold_out: np.ndarray, sold: np.ndarray | int = 20) -> LineDays:
    """Sold out on some of the days, nobody knows at what hour; weekdays are the only effect."""
    ledger = ledger_of(LINE, N_DAYS, baked=sold, sold=sold)
    effects = np.zeros((N_DAYS, len(effects_of(()))))
    effects[np.arange(N_DAYS), ledger.weekday] = 1
    ledger = replace(ledger, sold_out=sold_out)
    return LineDays.of(ledger, effects, np.full((N_DAYS, 2), [0.0, 1.0]))


def test_a_line_that_always_sells_out_wants_more_but_not_anything(prior: LinePrior) -> None:
    always = days_of(np.ones(N_DAYS, np.bool_))
    line = fit_line(always, prior)
    assert line.from_below
    means = np.exp(line.params[:7])
    assert (means > 24).all()
    assert (means < 70).all()
    # what is drawn is no more than several times as much either
    drawn = np.exp(line.draws(2000, np.random.default_rng(1))[:, :7])
    assert np.quantile(drawn, 0.95) < 140


def test_a_day_of_each_weekday_that_did_not_sell_out_tells_by_itself(prior: LinePrior) -> None:
    """Nothing is held then, and the regression is the one without."""
    sold_out = np.ones(N_DAYS, np.bool_)
    sold_out[:7] = False
    days = days_of(sold_out)
    assert not days.from_below
    assert np.isnan(days.held).all()
    free = replace(days, held=np.full(7, np.nan)).likelihood(prior)
    np.testing.assert_array_equal(days.likelihood(prior).prior_mean, free.prior_mean)
    sold_out[3] = True
    one = days_of(sold_out)
    assert np.flatnonzero(np.isfinite(one.held)).tolist() == [3]
    assert one.held[3] == pytest.approx(np.log(20))
    assert not fit_line(one, prior).from_below


def test_an_hour_of_the_last_sale_tells_too(prior: LinePrior) -> None:
    ledger = replace(ledger_of(LINE, N_DAYS, baked=20, sold=20), sold_out=np.ones(N_DAYS, np.bool_))
    effects = days_of(np.ones(N_DAYS, np.bool_)).effects
    half = LineDays.of(ledger, effects, np.full((N_DAYS, 2), [0.45, 0.55]))
    assert not half.from_below
    assert np.isnan(half.held).all()
    # half of what is wanted had come when 20 were sold
    assert np.exp(fit_line(half, prior).params[:7]) == pytest.approx(np.full(7, 40), rel=0.1)
