"""Chances of a day's sales under shares of all kinds of shoppers (numba).

Arrays in, arrays out. Given the rate of a day's shoppers, each kind is a Poisson variable of its
own, so that what they take of a shelf is a short sum; the rates are mixed afterwards.
"""

from math import exp, lgamma, log
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

OLD, FIRST, FRESH, OTHERS, FEWEST, ORDINARY = 0, 1, 2, 4, 6, 7
"""Rows of the chances: oldest-first shoppers, those who take reduced units first; who takes the
freshest units where none are reduced, and where some are, each followed by the same with fussy
shoppers; all who are sure to buy something, and all ordinary shoppers."""

UNHEARD = 1e-9
"""Chance of a day under a rate below which it is taken for none."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class SoldDays(NamedTuple):
    """Sales and what shoppers met in the morning, by day; int arrays, shape (n_days,) [units].

    Attributes
    ----------
    full, reduced : array of int
        Sold at the full and at the reduced price.
    full_there, reduced_there : array of int
        On the shelf in the morning at either price.
    """

    full: Ints
    reduced: Ints
    full_there: Ints
    reduced_there: Ints


def kind_odds(
    days: SoldDays,
    young: Ints,
    rates: Floats,
    shares: tuple[float, float, float],
    bargains: Floats,
) -> Floats:
    """Chance of each day's sales at both prices.

    Oldest-first and switching shoppers take reduced units first. Where there are no more of them,
    the former take the oldest of the others, the latter the freshest, as all the rest do; fussy
    ones come after these and take young units alone, bargain shoppers the reduced ones that are
    left. On a day that begins with reduced units, switching shoppers who find none are counted
    as if they went to the old end. All that was there and sold stands for as much or more.

    Parameters
    ----------
    days : SoldDays
    young : array of int, shape (n_days,)
        Full-price units that fussy shoppers take, in the morning [units].
    rates : array of float, shape (n_rates,)
        Ordinary shoppers of a day [units per day].
    shares : tuple of 3 float
        Oldest-first, fussy and switching, of the ordinary shoppers; at most 1 in all.
    bargains : array of float, shape (n_days,)
        Mean bargain shoppers, whatever the rate of the others [units per day].

    Returns
    -------
    array of float, shape (n_days, n_rates)
    """
    odds = np.empty((len(days.full), len(rates)))
    if len(odds):
        _fill(days, young, rates, shares[0], shares[1], shares[2], bargains, odds)
    return odds


@njit(cache=True, nogil=True)
def poisson(n, mean, pmf, upto):  # type: ignore[no-untyped-def]
    """Chances of 0 to n of a Poisson variable, and of fewer than 0 to n + 1."""
    # the largest term first, so that a large mean does not underflow
    peak = min(int(mean), n)
    pmf[peak] = exp(peak * log(mean) - mean - lgamma(peak + 1.0)) if mean > 0 else 1.0
    # what does not wait for the term before stands in brackets
    for k in range(peak, n):
        pmf[k + 1] = nothing_or(pmf[k] * (mean / (k + 1)))
    for k in range(peak, 0, -1):
        pmf[k - 1] = nothing_or(pmf[k] * (k / mean))
    upto[0] = 0.0
    for k in range(n + 1):
        upto[k + 1] = min(upto[k] + pmf[k], 1.0)


@njit(cache=True, nogil=True)
def poisson_at(n, mean):  # type: ignore[no-untyped-def]
    """Chance of n of a Poisson variable."""
    return exp(n * log(max(mean, 1e-300)) - mean - lgamma(n + 1.0))


@njit(cache=True, nogil=True)
def nothing_or(chance):  # type: ignore[no-untyped-def]
    """A chance, or 0 where it is so small that processors take a hundred times as long for it."""
    return chance if chance > 1e-100 else 0.0


@njit(cache=True, nogil=True)
def _fill(  # type: ignore[no-untyped-def]
    days, young, rates, oldest, fussy, switching, bargains, odds
):
    most = np.maximum(days.full_there, days.full).max() + 1
    most += np.maximum(days.reduced_there, days.reduced).max()
    pmf, upto = np.empty((8, most + 1)), np.empty((8, most + 2))
    rest = max(1 - oldest - fussy - switching, 0.0)
    means = (
        oldest,
        oldest + switching,
        rest + switching,
        rest + switching + fussy,
        rest,
        rest + fussy,
        1 - fussy,
        1.0,
    )
    reach = days.reduced_there.max()
    none, b_upto = np.empty(reach + 1), np.empty((len(odds), reach + 2))
    for day in range(len(odds)):
        poisson(reach, bargains[day], none, b_upto[day])

    for j in range(len(rates)):
        for kind in range(8):
            poisson(most, rates[j] * means[kind], pmf[kind], upto[kind])
        for day in range(len(odds)):
            p, q, there = days.full[day], days.reduced[day], days.full_there[day]
            reduced, y = days.reduced_there[day], min(young[day], there)
            few = 1.0 if p + q >= there + reduced else upto[FEWEST, p + q + 1]
            many = 1.0 if reduced > 0 else 1 - upto[ORDINARY, p]
            if few < UNHEARD or many < UNHEARD:
                odds[day, j] = 0.0
                continue
            if reduced > 0:
                odds[day, j] = two_prices(
                    p,
                    q,
                    there,
                    reduced,
                    y,
                    rates[j] * means[FIRST],
                    bargains[day],
                    pmf,
                    upto,
                    b_upto[day],
                )
            elif p < there:
                # while there are young units left, all shoppers buy, whatever end they take from
                odds[day, j] = pmf[ORDINARY, p]
                if p >= y:
                    odds[day, j] = both_ends(p, y, 0, OLD, FRESH, pmf, upto)
            else:
                odds[day, j] = 1 - upto[ORDINARY, p]
                if p > y:
                    odds[day, j] = all_gone(p, y, 0, OLD, FRESH, pmf, upto)


@njit(cache=True, nogil=True)
def both_ends(p, y, first, old, fresh, pmf, upto):  # type: ignore[no-untyped-def]
    """Chance that p units go, more being there: some by the kind `old`, beyond the `first` ones,
    who find others, the rest from the fresh end, of which y are young."""
    total = 0.0
    for o in range(max(p - y, 0)):
        total += pmf[old, first + o] * pmf[fresh, p - o]
    if p >= y:
        # fussy shoppers who find no young unit left go without
        total += pmf[old, first + p - y] * (upto[fresh, y + 1] - upto[fresh + 1, y])
    for o in range(max(p - y + 1, 0), p + 1):
        total += pmf[old, first + o] * pmf[fresh + 1, p - o]
    return total


@njit(cache=True, nogil=True)
def all_gone(there, y, first, old, fresh, pmf, upto):  # type: ignore[no-untyped-def]
    """Chance that all units go, the kinds as in `both_ends`."""
    total = 1 - upto[old, first + there]
    for o in range(there):
        left = there - o
        who = fresh + 1 if left <= y else fresh
        total += pmf[old, first + o] * (1 - upto[who, left])
    return total


@njit(cache=True, nogil=True)
def two_prices(  # type: ignore[no-untyped-def]
    p, q, there, reduced, y, first, bargain, pmf, upto, b_upto
):
    """Chance of p and q sales with reduced units there, which on average so many shoppers take
    `first`, and so many for a bargain."""
    out, some_left = p >= there, q < reduced
    # chance that fussy shoppers alone took the last of the full-price units
    fussy_out = max(upto[OTHERS, there] - upto[OTHERS + 1, there], 0.0) if y >= there else 0.0
    total = 0.0
    if not out:
        full = pmf[OTHERS, p] if p > y else pmf[OTHERS + 1, p]
        if p == y:
            full = upto[OTHERS, y + 1] - upto[OTHERS + 1, y]
        if some_left:
            return poisson_at(q, first + bargain) * full
        for g in range(reduced):
            total += pmf[FIRST, g] * (1 - b_upto[reduced - g])
        return total * full + both_ends(p, y, reduced, FIRST, OTHERS, pmf, upto)
    if some_left:
        # where the full-price units are gone, who wanted one takes a reduced one
        for extra in range(q + 1):
            total += pmf[OTHERS, there + extra] * poisson_at(q - extra, first + bargain)
        return total + fussy_out * poisson_at(q, first + bargain)
    for g in range(reduced):
        missing = reduced - g
        chance = 1 - upto[OTHERS, there + missing] + fussy_out * (1 - b_upto[missing])
        for extra in range(missing):
            chance += pmf[OTHERS, there + extra] * (1 - b_upto[missing - extra])
        total += pmf[FIRST, g] * chance
    return total + all_gone(there, y, reduced, FIRST, OTHERS, pmf, upto)
