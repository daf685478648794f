"""Scores of predicted distributions against values of the literature."""

import numpy as np
import pytest
from scipy import stats

from shrinkwise.demand.scoring import (
    QUANTILES,
    coverage,
    path_quantiles,
    pinball_losses,
    same_weekday_quantiles,
    weighted_quantile_loss,
)

# CRPS of a negative binomial (observed, size, chance of success): tests of the R package
# scoringRules (A. Jordan, F. Krueger, S. Lerch, Journal of Statistical Software 90(12), 2019,
# doi 10.18637/jss.v090.i12).
CRPS = (
    (5, 100, 0.95, 0.53215257681),
    (44, 200.1, 0.82, 1.70859687251),
    (41, 200.1, 0.83, 1.63833674721),
    (222, 2000.1, 0.9, 3.66926727576),
    (2222, 20000.1, 0.9, 11.6114812752),
)


@pytest.mark.parametrize(("units", "size", "chance", "crps"), CRPS)
def test_the_mean_pinball_loss_of_all_quantiles_is_half_the_crps(
    units: int, size: float, chance: float, crps: float
) -> None:
    """Gneiting & Ranjan 2011 (doi 10.1198/jbes.2010.08110): CRPS = 2 x integral over the levels."""
    levels = (np.arange(200_000) + 0.5) / 200_000
    quantiles = stats.nbinom(size, chance).ppf(levels)
    losses = pinball_losses(np.array([units]), quantiles[None], levels)
    assert 2 * losses.mean() == pytest.approx(crps, rel=2e-4)


@pytest.mark.parametrize(("quantile", "loss"), [(8, 1.8), (12, 0.2)])
def test_pinball_loss_by_hand(quantile: float, loss: float) -> None:
    """Level 0.9 and 10 units: 0.9 for each unit too few, 0.1 for each too many."""
    at = QUANTILES.index(0.9)
    found = pinball_losses(np.array([10]), np.full((1, len(QUANTILES)), quantile))
    assert found[0, at] == pytest.approx(loss)


def test_weighted_quantile_loss_by_hand() -> None:
    """Two days, each quantile 1 above and 1 below: 2 x (sum of 1 - tau + sum of tau) / (7 x 20)."""
    units = np.array([10, 10])
    quantiles = np.stack([np.full(7, 11.0), np.full(7, 9.0)])
    assert weighted_quantile_loss(units, quantiles) == pytest.approx(2 * 7 / (7 * 20))
    assert weighted_quantile_loss(units, np.full((2, 7), 10.0)) == 0
    assert np.isnan(weighted_quantile_loss(np.zeros(2), quantiles))


def test_what_was_there_keeps_the_true_distribution_best() -> None:
    """Gneiting & Ranjan 2011 (doi 10.1198/jbes.2010.08110): a score that looks at one part of the
    range alone must weigh it by the range and not by the days: of days that were not sold out, a
    forecast that is too low does better than the true one."""
    rng = np.random.default_rng(3)
    wanted, there = rng.poisson(20, 4000), np.full(4000, 19.0)
    sold = np.minimum(wanted, there)
    true, low = (
        np.tile(stats.poisson(mean).ppf(QUANTILES), (4000, 1)) for mean in (20, 17)
    )  # fmt: skip
    left = sold < there
    assert weighted_quantile_loss(sold[left], low[left]) < weighted_quantile_loss(
        sold[left], true[left]
    )
    assert weighted_quantile_loss(sold, low, there) > weighted_quantile_loss(sold, true, there)
    nowhere = np.full(4000, np.inf)
    assert weighted_quantile_loss(wanted, true, nowhere) == weighted_quantile_loss(wanted, true)


def test_coverage_counts_the_ends_of_the_middle_eight_tenths() -> None:
    quantiles = np.tile([1.0, 2, 3, 4, 5, 6, 7], (4, 1))
    assert coverage(np.array([1, 2, 6, 7]), quantiles) == 0.5


def test_quantiles_of_paths_are_units_that_were_drawn() -> None:
    units = np.arange(1, 101)[None].repeat(2, axis=0)
    assert path_quantiles(units).tolist() == [[5, 10, 25, 50, 75, 90, 95]] * 2


def test_the_same_weekday_rule_takes_the_last_eight_open_ones() -> None:
    units = np.arange(70.0)
    is_open = np.ones(70, np.bool_)
    is_open[63] = False
    found = same_weekday_quantiles(units, is_open)
    monday = units[[56, 49, 42, 35, 28, 21, 14, 7]]
    assert found[0] == pytest.approx(np.quantile(monday, QUANTILES))
    assert found[1, 3] == pytest.approx(np.median(units[[64, 57, 50, 43, 36, 29, 22, 15]]))
    never = same_weekday_quantiles(units, np.arange(70) % 7 != 2)
    assert np.isnan(never[2]).all()
    assert not np.isnan(never[[0, 1, 3, 4, 5, 6]]).any()
