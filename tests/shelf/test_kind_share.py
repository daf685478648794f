"""The oldest-first share beside other kinds, against a plain account of days that are all alike."""

import numpy as np
import pytest
from ledgers import ledger_of
from numpy.typing import ArrayLike
from scipy.stats import binom, poisson

from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import LineLedger
from shrinkwise.shelf.kind_days import KindDays
from shrinkwise.shelf.kind_share import Mix, share_among_kinds
from shrinkwise.shelf.share import GRID, SharePosterior, StockPosterior

N_DAYS = 40
LINE = Line(
    name="Rye",
    category="breads",
    price=4,
    dough_cost=1,
    shelf_life_days=3,
    reduce_on_day=3,
    reduced_price=2,
)
STOCK = StockPosterior(np.array([0.5]), np.zeros((1, 1, 3), np.int64), np.ones((1, 1)))
ALPHA, WANTED, PUT_OFF, TO_REDUCED, UPLIFT = 0.1, 9.0, 0.1, 0.35, 0.4
DEPTH = 1.0 + np.arange(N_DAYS) % 2
"""Every other day twice the present reduction, and twice the bargain shoppers."""


def found(ledger: LineLedger, **of_days: ArrayLike) -> SharePosterior:
    filled = {
        name: np.broadcast_to(np.asarray(of_days[name]), N_DAYS)
        for name in ("sold_reduced", "there", "reduced_there")
    }
    days = KindDays(
        ledger=ledger,
        first=0,
        usable=np.ones(N_DAYS, np.bool_),
        weekday=ledger.weekday,
        sold=ledger.sold,
        expected=np.full(N_DAYS, WANTED),
        by_age=np.zeros((N_DAYS, 2)),
        depth=DEPTH,
        alpha=ALPHA,
        **filled,
    )
    mix = Mix(np.full(N_DAYS, PUT_OFF), np.full(N_DAYS, WANTED), TO_REDUCED, UPLIFT)
    by_age = np.zeros((N_DAYS, ledger.line.shelf_life_days), np.int64)
    share = share_among_kinds(days, mix, by_age, by_age, STOCK, seed=1)
    assert share.stock is STOCK
    return share


def holds(share: SharePosterior, log_likelihood: np.ndarray) -> None:
    """A flat prior on the grid, and what so many days say of each share of it; the filter's
    weights lie on a cubic through its own."""
    weights = np.exp(log_likelihood - log_likelihood.max())
    weights /= weights.sum()
    mean = float(weights @ GRID)
    sd = float(np.sqrt(weights @ (GRID - mean) ** 2))
    assert share.mean == pytest.approx(mean, abs=0.1 * sd)
    spread = np.sqrt(share.weights @ (GRID - share.mean) ** 2)
    assert spread == pytest.approx(sd, rel=0.1)


def log_chances(share: float, depth: float) -> list[float]:
    """Of the full-price sales that oldest-first shoppers took, with 8 in all on a day on which 5
    units were reduced and sold, by who of each kind may have come."""
    sold, full, reduced = 13, 8, 5
    ordinary = sold / (1 + UPLIFT * depth)
    # of a rate that is Gamma distributed round what was expected, given who came
    rate = (1 / ALPHA + ordinary) / (1 / ALPHA / (WANTED * (1 - PUT_OFF)) + 1)
    switching = max(TO_REDUCED - share, 0.0)
    fresh = max(1 - PUT_OFF - share - switching, 1e-9)
    units = np.arange(sold + 1)
    old, switch, rest = (
        poisson.pmf(units, rate * of_all).tolist() for of_all in (share, switching, fresh)
    )
    enough = poisson.sf(units - 1, UPLIFT * depth * WANTED).tolist()
    chance = np.zeros(full + 1)
    for oldest in range(sold + 1):
        for switched in range(sold + 1):
            at_full_price, left = max(oldest - reduced, 0), max(reduced - oldest, 0)
            others = full - at_full_price - max(switched - left, 0)
            if others >= 0:
                came = old[oldest] * switch[switched] * rest[others]
                chance[at_full_price] += came * enough[max(left - switched, 0)]
    return np.log(chance / chance.sum()).tolist()


def test_full_price_units_tell_the_share_beside_every_kind() -> None:
    """Every day 5 units are reduced and sold, and 8 sold at the full price, some of them old ones,
    of which there are 5 more: these are reduced on the next morning.

    The days are weighed from the third on, when all that is there was baked by the logs, to the
    last but one, after which what is reduced is not known.
    """
    took = np.resize([0, 0, 1], N_DAYS + 1)
    old = took + 5
    baked = 8 - took[:-1] + old[1:]
    ledger = ledger_of(
        LINE, N_DAYS, baked=baked, sold=13, sold_reduced=5, labelled=5, on_hand_close=old[1:] + 5
    )
    share = found(ledger, sold_reduced=5, there=baked + old[:-1] + 5, reduced_there=5)
    some = GRID[::4]
    by_share = [{depth: log_chances(one, depth) for depth in (1.0, 2.0)} for one in some]
    days = range(2, N_DAYS - 1)
    told = [sum(one[DEPTH[day]][took[day]] for day in days) for one in by_share]
    holds(share, np.interp(GRID, some, told))


def test_where_no_reduced_unit_is_told_all_units_are_looked_at() -> None:
    """Life 2, 10 baked and 8 sold a day, 2 of the 6 old ones thrown: 4 of 8 who bought took the
    oldest, and one in ten of all shoppers went without."""
    line = LINE.model_copy(update={"shelf_life_days": 2, "reduce_on_day": None})
    ledger = ledger_of(line, N_DAYS, baked=10, sold=8, disposed_last_day=2, on_hand_close=6)
    share = found(ledger, sold_reduced=0, there=16, reduced_there=0)
    of_buyers = np.minimum(GRID / (1 - PUT_OFF), 0.9999)
    holds(share, (N_DAYS - 2) * binom.logpmf(4, 8, of_buyers))


def test_full_price_units_of_one_day_tell_nothing() -> None:
    """All reduced on their second day: every full-price unit is as fresh as the others."""
    line = LINE.model_copy(update={"reduce_on_day": 2})
    ledger = ledger_of(line, N_DAYS, baked=10, sold=10, sold_reduced=2, labelled=2, on_hand_close=2)
    share = found(ledger, sold_reduced=2, there=12, reduced_there=2)
    assert share.weights == pytest.approx(np.full(len(GRID), 1 / len(GRID)))
