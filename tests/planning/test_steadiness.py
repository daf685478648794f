"""Over how many weeks the levels of a habit have been the same."""

import numpy as np
import pytest

from shrinkwise.planning.steadiness import steady_weeks

AGE = np.arange(7 * 60)


def levels(seed: int) -> np.ndarray:
    """A bake on each of 60 weeks' days, misjudged by 10%."""
    return 1.3 * np.exp(np.random.default_rng(seed).normal(0, 0.1, len(AGE)))


def test_a_steady_habit_is_read_over_a_year() -> None:
    # three standard errors and four looks: about one store in a hundred loses weeks by chance
    found = [steady_weeks(levels(seed), AGE) for seed in range(100)]
    assert np.mean(np.array(found) == 52) >= 0.95


@pytest.mark.parametrize("ago", [8, 16, 26])
def test_weeks_from_before_a_change_are_left_out(ago: int) -> None:
    """A fifth more is baked since then."""
    found = []
    for seed in range(20):
        multiples = levels(seed)
        multiples[7 * ago :] /= 1.2
        found.append(steady_weeks(multiples, AGE))
    assert np.median(found) == ago
    assert max(found) <= ago


def test_with_few_bakes_the_recent_weeks_are_taken() -> None:
    assert steady_weeks(np.array([1.2]), np.array([3])) == 8
    assert steady_weeks(np.full(20, 1.2), np.arange(20)) == 8
