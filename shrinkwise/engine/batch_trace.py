"""What left the shelf at which age on every day, drawn as whole accounts of the records (numba).

Arrays in, arrays out; age 0 is baked today. The particles of `share_filter.py` follow the stock
under one oldest-first share, here with all that the logs say, and one of those that live to the
last night tells its days.
"""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from shrinkwise.engine.particles import binomial_cdf, bounds, dispose_early, drawn, pick_unequal

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Seen(NamedTuple):
    """What the logs say of the days; 0 or more unless said otherwise [units].

    Attributes
    ----------
    baked, sold, thrown, on_hand_close : array of int, shape (n_days,)
        `thrown` on their last day; on the shelf after the night's disposal.
    sold_reduced : array of int, shape (n_days,)
        Of the sold; -1 where the till does not say.
    early : array of int, shape (n_days,)
        Disposed of before their last day, at an age that is not known.
    early_by_age, labelled_by_age : array of int, shape (n_days, life)
        The same at a known age; units given the reduced price, -1 where nothing is said.
    """

    baked: Ints
    sold: Ints
    thrown: Ints
    on_hand_close: Ints
    sold_reduced: Ints
    early: Ints
    early_by_age: Ints
    labelled_by_age: Ints


class Account(NamedTuple):
    """Units by day and age, each of shape (n_accounts, n_days, life).

    Attributes
    ----------
    sold, disposed
    missing, found : array of int
        Taken off or put to the batch so that the stock agrees with the ledger: nobody knows how
        they left, or where they came from.
    left : array of int, shape (n_accounts, life)
        On the shelf after the last night, by their age on the next morning.
    """

    sold: Ints
    disposed: Ints
    missing: Ints
    found: Ints
    left: Ints


def accounts_of(
    seen: Seen,
    life: int,
    reduce_age: int,
    shares: Floats,
    chances: Floats,
    impossible: float,
    trusted_from: int,
) -> Account:
    """Draw an account of the days for each oldest-first share.

    Parameters
    ----------
    seen : Seen
        One day or more.
    life : int
        Shelf life [days].
    reduce_age : int
        Age from which a unit carries the reduced price; `life` for never.
    shares : array of float, shape (n_accounts,)
        Above 0 and below 1.
    chances : array of float, shape (n_accounts, n_days, n_particles + 2)
        Between 0 and 1: each particle's shoppers, to resample, to choose the particle that tells.
    impossible : float
        Likelihood of a log that a particle contradicts.
    trusted_from : int
        First day whose logs weigh the particles: before it the shelf may hold older batches.
    """
    n_accounts, n_days = len(shares), len(seen.sold)
    sold, disposed, missing, found = np.zeros((4, n_accounts, n_days, life), np.int64)
    account = Account(sold, disposed, missing, found, np.zeros((n_accounts, life), np.int64))
    days = Seen(*(np.ascontiguousarray(units, np.int64) for units in seen))
    run(days, reduce_age, shares, chances, impossible, trusted_from, account)
    return account


@njit(cache=True, nogil=True)
def run(seen, reduce_age, shares, chances, impossible, trusted_from, account):  # type: ignore[no-untyped-def]
    """Fill what `accounts_of` returns."""
    n_days, life = seen.early_by_age.shape
    n = chances.shape[2] - 2
    below = np.empty(seen.sold.max() + 2)
    ancestors = np.empty((n_days, n), np.int64)
    sold, disposed = np.empty((n_days, n, life), np.int64), np.empty((n_days, n, life), np.int64)
    missing, found = np.empty((n_days, n, life), np.int64), np.empty((n_days, n, life), np.int64)
    for one in range(len(shares)):
        stock, weights = np.zeros((n, life), np.int64), np.full(n, 1 / n)
        for day in range(n_days):
            binomial_cdf(seen.sold[day], shares[one], below)
            trusted = day >= trusted_from
            for p in range(n):
                weights[p] *= live_one(
                    seen, day, reduce_age, below, chances[one, day, p], impossible, trusted,
                    stock[p], sold[day, p], disposed[day, p], missing[day, p], found[day, p],
                )  # fmt: skip
            settle(stock, weights, chances[one, day, n], ancestors[day])
        tell(
            account, one, stock, weights, chances[one, 0, n + 1], ancestors, sold, disposed,
            missing, found,
        )  # fmt: skip


@njit(cache=True, nogil=True)
def live_one(  # type: ignore[no-untyped-def]
    seen, day, reduce_age, below, chance, impossible, trusted, stock, sold, disposed, missing, found
):
    """One day and night of one particle; returns the likelihood of what the logs say of it."""
    life, weight = len(stock), 1.0
    units, thrown = seen.sold[day], seen.thrown[day]
    stock[0] = seen.baked[day]
    for age in range(life):
        if seen.labelled_by_age[day, age] >= 0:
            # labels that are a few units off are likelier than a wrong shelf
            weight *= max(0.25 ** abs(stock[age] - seen.labelled_by_age[day, age]), impossible)
    there = dispose_early(stock, seen.early_by_age[day], seen.early[day], chance, disposed)
    low, high, possible = bounds(there, stock[life - 1], units, thrown)
    reduced = 0
    for age in range(reduce_age, life):
        reduced += stock[age]
    if seen.sold_reduced[day] >= 0:
        least, most, fits = reduced_bounds(there, reduced, units, seen.sold_reduced[day])
        fits = fits and max(low, least) <= min(high, most)
        if fits:
            low, high = max(low, least), min(high, most)
        possible = possible and fits
    span = below[high + 1] - below[low]
    start = drawn(below, low, high, below[low] + chance * span)
    weight *= max(span, impossible) if possible else impossible

    # oldest-first shoppers take the units before `start`, the others those from `stop` on
    stop = max(there - (units - start), start)
    passed, on_hand, carried = 0, seen.on_hand_close[day], 0
    for age in range(life - 1, -1, -1):
        begin = passed
        passed += stock[age]
        stays = min(max(passed, start), stop) - min(max(begin, start), stop)
        sold[age] = stock[age] - stays
        missing[age], found[age] = 0, 0
        if age + 1 == life:
            missing[age] = max(stays - thrown, 0)
            found[age] = max(thrown - stays, 0)
            disposed[age] += thrown
        else:
            older = min(stays, on_hand - carried)
            missing[age] = stays - older
            carried += older
            stock[age + 1] = older
    stock[0] = 0
    if life > 1:
        found[0] = on_hand - carried
        stock[1] += found[0]
    return weight if trusted else 1.0


@njit(cache=True, nogil=True)
def reduced_bounds(there, reduced, units, told):  # type: ignore[no-untyped-def]
    """Oldest-first shoppers of the day, least and most, with `told` of the sold units reduced.

    The reduced are the oldest: what the first shoppers take of them, or at least what the others
    leave no choice but to take.
    """
    unavoidable = min(max(reduced - there + units, 0), reduced)
    low = told if told > unavoidable else 0
    high = told if told < reduced else units
    return low, min(high, units), unavoidable <= told <= reduced and low <= units


@njit(cache=True, nogil=True)
def settle(stock, weights, u, ancestors):  # type: ignore[no-untyped-def]
    """Let the weights add up to 1 and resample where they are too unequal; note who goes on."""
    n, life = stock.shape
    if not pick_unequal(weights, weights.sum(), u, ancestors):
        return
    before = stock.copy()
    for p in range(n):
        for age in range(life):
            stock[p, age] = before[ancestors[p], age]


@njit(cache=True, nogil=True)
def tell(  # type: ignore[no-untyped-def]
    account, one, stock, weights, u, ancestors, sold, disposed, missing, found
):
    """Put down the days of a particle that is chosen by its weight."""
    n, life = stock.shape
    p, upto = 0, weights[0]
    while upto < u and p + 1 < n:
        p += 1
        upto += weights[p]
    for age in range(life):
        account.left[one, age] = stock[p, age]
    for day in range(len(sold) - 1, -1, -1):
        p = ancestors[day, p]
        for age in range(life):
            account.sold[one, day, age] = sold[day, p, age]
            account.disposed[one, day, age] = disposed[day, p, age]
            account.missing[one, day, age] = missing[day, p, age]
            account.found[one, day, age] = found[day, p, age]
