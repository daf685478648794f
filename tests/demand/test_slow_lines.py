"""The far ends of what is predicted for lines that sell less than three units a day."""

from datetime import timedelta

import numpy as np
import pytest
from made_up import DAYS, FIRST, N_LINES, made

from shrinkwise.demand.backtest import before
from shrinkwise.demand.model import fit_demand

AHEAD = 91
STORES = 3
TAILS = (0.005, 0.01, 0.05)
N_PATHS = 4000


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> np.ndarray:
    """Where the last thirteen weeks of slow lines lay in what was predicted of them, 0 to 1: a
    place drawn within the chance of a count (Smith 1985, doi 10.1002/for.3980040305)."""
    found = []
    for seed in range(STORES):
        store = made(tmp_path_factory.mktemp("slow") / "store", 0.001, seed, least=0.3, most=3.0)
        start = FIRST + timedelta(days=DAYS - AHEAD)
        model = fit_demand(before(store.records(hours=False), start))
        paths = model.paths(start, AHEAD, N_PATHS, seed=1)
        rng = np.random.default_rng(seed)
        for line in range(N_LINES):
            units, wanted = paths.units[f"Line {line}"], store.wanted[line, -AHEAD:, None]
            less, as_many = (units < wanted).mean(axis=1), (units == wanted).mean(axis=1)
            found.append(less + rng.random(AHEAD) * as_many)
    return np.concatenate(found)


def test_the_far_ends_hold_as_many_days_as_they_should(places: np.ndarray) -> None:
    for tail in TAILS:
        above, below = (places > 1 - tail).mean(), (places < tail).mean()
        print(f"\n{100 * tail:.1f}%: above {100 * above:.2f}%, below {100 * below:.2f}%")
        # days of one line share what is not known of it: twice a binomial's standard error
        error = 2 * np.sqrt(tail * (1 - tail) / len(places))
        assert abs(above - tail) < 2.5 * error
        assert abs(below - tail) < 2.5 * error


def test_no_end_is_empty(places: np.ndarray) -> None:
    """Nine of ten days in the middle, and days in either far end."""
    assert 0.86 < ((places > 0.05) & (places < 0.95)).mean() < 0.94
    assert (places > 0.995).any()
    assert (places < 0.005).any()
