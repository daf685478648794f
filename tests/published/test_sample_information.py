"""Expected value of sample information against its closed form: a normal gain, normal data.

Two actions, to switch or to stay; the gain of the switch is normal with mean m and standard
deviation s, and n data are seen, normal round the gain with deviation r. The preposterior mean is
normal with deviation d = s sqrt(s^2 / (s^2 + r^2 / n)), and the data are worth d L(|m| / d), with
the unit normal linear loss L(u) = phi(u) - u (1 - Phi(u)) (H. Raiffa, R. Schlaifer, Applied
Statistical Decision Theory, Harvard University, 1961; the formula from memory, the values of L
below from memory of their table).
"""

import numpy as np
import pytest
from scipy.stats import norm

from shrinkwise.scenarios.information import expected_given, value_of

DRAWS = 200_000
UNIT_NORMAL_LOSS = {0.0: 0.3989, 0.5: 0.1978, 1.0: 0.08332, 1.5: 0.02931, 2.0: 0.008491}


def unit_normal_loss(u: float) -> float:
    return float(norm.pdf(u) - u * norm.sf(u))


@pytest.mark.parametrize(("u", "tabled"), UNIT_NORMAL_LOSS.items())
def test_the_closed_form_is_that_of_the_table(u: float, tabled: float) -> None:
    assert unit_normal_loss(u) == pytest.approx(tabled, rel=1e-3)


@pytest.mark.parametrize("mean", [-120.0, -40.0, 0.0, 40.0])
@pytest.mark.parametrize(("noise", "n"), [(0.0, 1), (160.0, 4), (400.0, 8)])
def test_normal_data_on_a_normal_gain(mean: float, noise: float, n: int) -> None:
    rng = np.random.default_rng(5)
    spread = 80.0
    gain = rng.normal(mean, spread, DRAWS)
    seen = gain + rng.normal(0, noise / np.sqrt(n), DRAWS)
    deviation = spread * np.sqrt(spread**2 / (spread**2 + noise**2 / n))
    closed = deviation * unit_normal_loss(abs(mean) / deviation)
    found = value_of(gain.mean() + expected_given(gain, [seen]))
    # of a mean of DRAWS values whose deviation is below that of the gain
    assert found == pytest.approx(closed, abs=4 * spread / np.sqrt(DRAWS))


def test_few_draws_of_what_tells_nothing_are_worth_little() -> None:
    # plain least squares finds some 3.60 in the luck of 384 draws, of 32 that knowing is worth
    worth = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        gain, data = rng.normal(0, 80, 384), rng.normal(0, 1, (3, 384))
        worth.append(value_of(expected_given(gain, list(data))))
    assert np.mean(worth) < 1.5
