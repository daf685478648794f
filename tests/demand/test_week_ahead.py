"""Past errors a week ahead against simulated days whose noise is known."""

from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.demand.effects import central, covariance, effects_of, level_steps
from shrinkwise.demand.fitting import fit_together, groupings
from shrinkwise.demand.line import LineDays
from shrinkwise.demand.pooling import LinePrior
from shrinkwise.demand.week_ahead import FEWEST_DAYS, WEEKS, dispersion, look_back, shared_variance

N_DAYS, MEAN = 728, 40.0


def made_up_days(
    n_lines: int, own: float, shared: float, rng: np.random.Generator, n_days: int = N_DAYS
) -> list[LineDays]:
    """Lines of one store, every weekday alike: only noise, of each line and of all."""
    layout = effects_of(())
    effects = np.zeros((n_days, len(layout)))
    effects[np.arange(n_days), np.arange(n_days) % 7] = 1
    steps = level_steps(np.arange(n_days)[::-1])
    effects[:, -steps.shape[1] :] = steps
    shock = rng.gamma(1 / shared, shared, n_days) if shared else np.ones(n_days)
    every, none = np.ones(n_days, np.bool_), np.zeros(n_days, np.bool_)
    came = np.ones(n_days)
    sold = (rng.poisson(MEAN * shock * rng.gamma(1 / own, own, n_days)) for _ in range(n_lines))
    return [LineDays(units, none, every, effects, came) for units in sold]


def prior() -> LinePrior:
    layout = effects_of(())
    return LinePrior(central(layout), covariance(layout, "everywhere") + covariance(layout, "line"))


def test_dispersion_and_shared_shock_are_found_again() -> None:
    """(1 + alpha) = (1 + own) (1 + shared) = 1.1444; 12 lines, a year of errors."""
    layout = effects_of(())
    days = made_up_days(12, 0.09, 0.05, np.random.default_rng(1))
    groups, own = groupings(layout, ["rolls"] * 12, ["here"] * 12)
    fitted = [one for one in fit_together(days, layout, groups, own) if one is not None]
    alpha = [float(one.line.params[-1]) for one in fitted]
    assert len(fitted) == 12
    assert np.mean(np.exp(alpha)) == pytest.approx(1.09 * 1.05 - 1, rel=0.15)
    shared = shared_variance(days, [one.ahead for one in fitted], alpha)
    print(f"\nalpha {np.mean(np.exp(alpha)):.3f}, shared {shared:.3f}")
    # 364 days: the variance of a gamma factor is known to about 10%
    assert shared == pytest.approx(0.05, rel=0.35)


def test_nothing_shared_is_nearly_nothing() -> None:
    days = made_up_days(12, 0.09, 0.0, np.random.default_rng(2))
    params = np.append(central(effects_of(())), np.log(0.09))
    params[:7] = np.log(MEAN)
    ahead = [look_back(one, prior(), params) for one in days]
    assert shared_variance(days, ahead, [np.log(0.09)] * 12) < 0.004


def test_what_is_expected_of_a_week_knows_nothing_of_it() -> None:
    """The last week sells ten times as much: the weeks before are expected as they were."""
    days = made_up_days(1, 0.05, 0.0, np.random.default_rng(3))[0]
    wild = days.sold.copy()
    wild[-7:] *= 10
    params = np.append(central(effects_of(())), np.log(0.05))
    params[:7] = np.log(MEAN)
    usual = look_back(days, prior(), params)
    after = look_back(replace(days, sold=wild), prior(), params)
    assert usual.day.tolist() == list(range(N_DAYS - 7 * WEEKS, N_DAYS))
    assert after.log_mean == pytest.approx(usual.log_mean)
    assert (usual.variance > 0).all()


def test_a_short_history_tells_no_dispersion() -> None:
    short = made_up_days(1, 0.05, 0.0, np.random.default_rng(4), FEWEST_DAYS + 14)[0]
    params = np.append(central(effects_of(())), np.log(0.05))
    params[:7] = np.log(MEAN)
    ahead = look_back(short, prior(), params)
    assert len(ahead.day) == 14
    assert dispersion(short, ahead) is None
