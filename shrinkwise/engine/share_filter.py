"""The age of a line's stock, followed through its records by particles under each share (numba).

Arrays in, arrays out; age 0 is baked today. Array expressions would take seconds to compile.
"""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from shrinkwise.engine.particles import binomial_cdf, bounds, dispose_early, drawn, pick_unequal

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Logged(NamedTuple):
    """What is known of the days, each of shape (n_days,) but the last, 0 or more [units].

    `early` was disposed of before its last day at an age that is not known, `early_by_age`,
    shape (n_days, life), at a known one.
    """

    baked: Ints
    sold: Ints
    early: Ints
    disposed_last_day: Ints
    on_hand_close: Ints
    early_by_age: Ints


class Followed(NamedTuple):
    """What became of the stock under each share.

    Attributes
    ----------
    log_likelihood : array of float, shape (n_shares,)
        Of the disposals.
    units : array of int, shape (n_shares, n_particles, life)
        The stock by age on the morning after the last night; age 0 is empty.
    weights : array of float, shape (n_shares, n_particles)
        Of the particles, adding up to 1 for each share.
    """

    log_likelihood: Floats
    units: Ints
    weights: Floats


def follow(
    logged: Logged,
    disposals_known: bool,
    life: int,
    shares: Floats,
    chances: Floats,
    impossible: float,
    oldest: Floats | None = None,
) -> Followed:
    """Follow the stock from an empty shelf, with the same chances under every share.

    Parameters
    ----------
    logged : Logged
        One day or more.
    disposals_known : bool
        The day's oldest-first shoppers are drawn given the night's disposals, particles are
        weighed by these once a shelf life has passed, and the stock agrees with `on_hand_close`
        every night. Else shoppers come as they may, what is out of date leaves, and
        `on_hand_close` is a ceiling.
    life : int
        Shelf life [days].
    shares : array of float, shape (n_shares,)
        Above 0 and below 1.
    chances : array of float, shape (n_days, n_particles + 1)
        Between 0 and 1: for each particle's shoppers of the day and, last, to resample.
    impossible : float
        Likelihood of disposals that a particle cannot have had.
    oldest : array of float, shape (n_shares, n_days, units), optional
        Chance that fewer than 0, 1, 2, ... of a day's sales were from the old end; those of the
        share out of all sales when left out.
    """
    n_shares, n_particles = len(shares), chances.shape[1] - 1
    found = Followed(
        log_likelihood=np.zeros(n_shares),
        units=np.zeros((n_shares, n_particles, life), np.int64),
        weights=np.full((n_shares, n_particles), 1 / n_particles),
    )
    below = np.empty(int(logged.sold.max()) + 2)
    # one layout, so that the loops are compiled once
    days = Logged(*(np.ascontiguousarray(units, np.int64) for units in logged))
    known = np.empty((0, 0, 0)) if oldest is None else oldest
    run(days, bool(disposals_known), shares, chances, impossible, below, known, found)
    return found


@njit(cache=True, nogil=True)
def run(logged, disposals_known, shares, chances, impossible, below, oldest, found):  # type: ignore[no-untyped-def]
    """Fill what `follow` returns; `below` has room for the chances of the largest sales."""
    life = found.units.shape[2]
    for share in range(len(shares)):
        for day in range(len(logged.sold)):
            if len(oldest) > 0:
                for k in range(logged.sold[day] + 2):
                    below[k] = oldest[share, day, k]
            else:
                binomial_cdf(logged.sold[day], shares[share], below)
            explained = live_day(
                logged, day, disposals_known, below, chances, impossible, found, share
            )
            if disposals_known and day >= life:
                found.log_likelihood[share] += np.log(explained)
                resample_unequal(found, share, explained, chances[day, -1])


@njit(cache=True, nogil=True)
def live_day(  # type: ignore[no-untyped-def]
    logged, day, disposals_known, below, chances, impossible, found, share
):
    """One day and night of the particles of a share; returns the sum of their weights.

    The weights are multiplied by the likelihood of the disposals.
    """
    stock, weights = found.units[share], found.weights[share]
    n_particles, life = stock.shape
    sold, gone = logged.sold[day], np.empty(life, np.int64)
    thrown, on_hand = logged.disposed_last_day[day], logged.on_hand_close[day]
    total = 0.0
    for p in range(n_particles):
        stock[p, 0] = logged.baked[day]
        there = dispose_early(
            stock[p], logged.early_by_age[day], logged.early[day], chances[day, p], gone
        )
        low, high, possible = 0, sold, True
        if disposals_known:
            low, high, possible = bounds(there, stock[p, life - 1], sold, thrown)
        span = below[high + 1] - below[low]
        start = drawn(below, low, high, below[low] + chances[day, p] * span)
        if disposals_known and day >= life:
            weights[p] *= max(span, impossible) if possible else impossible
        total += weights[p]

        # oldest-first shoppers take the units before `start`, all others those from `stop` on
        stop = max(there - (sold - start), start)
        passed, kept, carried = 0, start, 0
        for age in range(life - 1, -1, -1):
            passed += stock[p, age]
            end = min(max(passed, start), stop)
            stays = end - kept
            kept = end
            if age + 1 < life:
                older = min(stays, on_hand - carried)
                stock[p, age + 1] = older
                carried += older
        stock[p, 0] = 0
        if life > 1 and disposals_known:
            stock[p, 1] += on_hand - carried
    return total


@njit(cache=True, nogil=True)
def resample_unequal(found, share, total, u):  # type: ignore[no-untyped-def]
    """Let the weights add up to 1; where they have become too unequal, resample."""
    stock = found.units[share]
    n_particles, life = stock.shape
    picked = np.empty(n_particles, np.int64)
    if not pick_unequal(found.weights[share], total, u, picked):
        return
    before = stock.copy()
    for p in range(n_particles):
        for age in range(life):
            stock[p, age] = before[picked[p], age]


def within_batches(units: Ints, batches: Ints) -> Ints:
    """The same stocks with no age holding more than was baked of it.

    Stock that agrees with a count can hold units that no batch of their age explains; they go to
    the freshest ages that have room, and what is beyond all batches to age 1.

    Parameters
    ----------
    units : array of int, shape (..., life)
    batches : array of int, shape (life,)
        Units baked, by age; nothing of age 0.
    """
    fitting = np.minimum(units, batches)
    over = (units - fitting).sum(axis=-1)
    taken = np.minimum(np.cumsum(batches - fitting, axis=-1), over[..., None])
    fitting += np.diff(taken, axis=-1, prepend=0)
    if len(batches) > 1:
        fitting[..., 1] += over - taken[..., -1]
    return fitting
