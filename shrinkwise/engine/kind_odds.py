"""Chances of a day's sales under shares of fussy, switching and bargain shoppers (numba).

Arrays in, arrays out. Given the rate of a day's shoppers, each kind is a Poisson variable of its
own, so that what they take of a shelf is a short sum. Every function fills chances by day, shares
and rate; the rates are mixed afterwards.
"""

from math import exp, lgamma, log

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def fussy_odds(
    sold: Ints, there: Ints, young: Ints, rates: Floats, oldest: float, fussy: Floats
) -> Floats:
    """Chance of each day's sales with fussy shoppers, who take young units alone.

    With O, F and Y oldest-first, freshest-first and fussy shoppers and y young units, the sales
    are O + max(F, min(F + Y, y)) as long as the shelf lasts.

    Parameters
    ----------
    sold, there, young : array of int, shape (n_days,)
        Sales, units on the shelf in the morning, those of them that fussy shoppers take. Where
        all were sold, the chance is that of as much or more [units].
    rates : array of float, shape (n_rates,)
        Shoppers of a day [units per day].
    oldest : float
        Share of oldest-first shoppers.
    fussy : array of float, shape (n_shares,)
        Shares of fussy shoppers, at most 1 - `oldest`.

    Returns
    -------
    array of float, shape (n_days, n_shares, n_rates)
    """
    odds = np.empty((len(sold), len(fussy), len(rates)))
    _fill_fussy(sold, there, young, rates, oldest, fussy, odds)
    return odds


def bargain_odds(
    full: Ints,
    reduced: Ints,
    full_there: Ints,
    reduced_there: Ints,
    rates: Floats,
    to_reduced: Floats,
    bargains: Floats,
) -> Floats:
    """Chance of each day's sales at the full and at the reduced price, with reduced units there.

    Oldest-first and switching shoppers take reduced units first, the others full-price ones;
    bargain shoppers take what reduced units are then left.

    Parameters
    ----------
    full, reduced : array of int, shape (n_days,)
        Sales [units].
    full_there, reduced_there : array of int, shape (n_days,)
        On the shelf in the morning; 1 or more of the reduced [units].
    rates : array of float, shape (n_rates,)
        Ordinary shoppers of a day [units per day].
    to_reduced : array of float, shape (n_shares,)
        Shares of the ordinary shoppers who take reduced units first.
    bargains : array of float, shape (n_days, n_uplifts)
        Mean bargain shoppers [units per day].

    Returns
    -------
    array of float, shape (n_days, n_shares, n_uplifts, n_rates)
    """
    odds = np.empty((len(full), len(to_reduced), bargains.shape[1], len(rates)))
    _fill_bargains(
        full, reduced, full_there, reduced_there, rates, to_reduced, bargains, odds
    )
    return odds


@njit(cache=True, nogil=True)
def poisson(n, mean, pmf, upto):  # type: ignore[no-untyped-def]
    """Chances of 0 to n of a Poisson variable, and of fewer than 0 to n + 1."""
    # the largest term first, so that a large mean does not underflow
    peak = min(int(mean), n)
    pmf[peak] = exp(peak * log(mean) - mean - lgamma(peak + 1.0)) if mean > 0 else 1.0
    for k in range(peak, n):
        pmf[k + 1] = pmf[k] * mean / (k + 1)
    for k in range(peak, 0, -1):
        pmf[k - 1] = pmf[k] * k / mean
    upto[0] = 0.0
    for k in range(n + 1):
        upto[k + 1] = min(upto[k] + pmf[k], 1.0)


@njit(cache=True, nogil=True)
def _fill_fussy(sold, there, young, rates, oldest, fussy, odds):  # type: ignore[no-untyped-def]
    n = max(there.max(), sold.max())
    o_pmf, o_upto = np.empty(n + 1), np.empty(n + 2)
    r_pmf, r_upto = np.empty(n + 1), np.empty(n + 2)
    f_pmf, f_upto = np.empty(n + 1), np.empty(n + 2)
    all_pmf, all_upto = np.empty(n + 1), np.empty(n + 2)
    for j in range(len(rates)):
        poisson(n, rates[j], all_pmf, all_upto)
        poisson(n, rates[j] * oldest, o_pmf, o_upto)
        poisson(n, rates[j] * (1 - oldest), r_pmf, r_upto)
        for k in range(len(fussy)):
            poisson(n, rates[j] * max(1 - oldest - fussy[k], 0.0), f_pmf, f_upto)
            for day in range(len(sold)):
                s, y = sold[day], young[day]
                if s >= there[day]:
                    total = 1 - o_upto[s]
                    for o in range(s):
                        w = s - o
                        total += o_pmf[o] * (1 - (r_upto[w] if w <= y else f_upto[w]))
                elif s < y:
                    total = all_pmf[s]
                else:
                    total = o_pmf[s - y] * max(f_upto[y + 1] - r_upto[y], 0.0)
                    for o in range(s - y):
                        total += o_pmf[o] * f_pmf[s - o]
                    for o in range(s - y + 1, s + 1):
                        total += o_pmf[o] * r_pmf[s - o]
                odds[day, k, j] = total


@njit(cache=True, nogil=True)
def _fill_bargains(  # type: ignore[no-untyped-def]
    full, reduced, full_there, reduced_there, rates, to_reduced, bargains, odds
):
    most = max(full.max(), full_there.max()) + reduced_there.max() + 1
    g_pmf, g_upto = np.empty(most + 1), np.empty(most + 2)
    f_pmf, f_upto = np.empty(most + 1), np.empty(most + 2)
    n_days, n_uplifts = bargains.shape
    reach = reduced_there.max()
    b_pmf, b_upto = np.empty(reach + 1), np.empty((n_days, n_uplifts, reach + 2))
    for day in range(n_days):
        for k in range(n_uplifts):
            poisson(reach, bargains[day, k], b_pmf, b_upto[day, k])
    for j in range(len(rates)):
        for i in range(len(to_reduced)):
            poisson(most, rates[j] * to_reduced[i], g_pmf, g_upto)
            poisson(most, rates[j] * (1 - to_reduced[i]), f_pmf, f_upto)
            for day in range(n_days):
                p, q, there = full[day], reduced[day], reduced_there[day]
                out = p >= full_there[day]
                certain = 0.0
                if q >= there:
                    for g in range(there, there + p + 1):
                        left = there + p - g
                        certain += g_pmf[g] * ((1 - f_upto[left]) if out else f_pmf[left])
                    if out:
                        certain += 1 - g_upto[there + p + 1]
                for k in range(n_uplifts):
                    mean = bargains[day, k]
                    if q < there:
                        rate, total = rates[j] * to_reduced[i] + mean, 0.0
                        # where the full-price units are gone, who wanted one takes a reduced one
                        for extra in range(q + 1 if out else 1):
                            took = q - extra
                            total += f_pmf[p + extra] * exp(
                                took * log(max(rate, 1e-300)) - rate - lgamma(took + 1.0)
                            )
                        odds[day, i, k, j] = total
                        continue
                    total = certain
                    for g in range(there):
                        missing = there - g
                        if not out:
                            total += g_pmf[g] * f_pmf[p] * (1 - b_upto[day, k, missing])
                            continue
                        for extra in range(missing):
                            total += (
                                g_pmf[g] * f_pmf[p + extra] * (1 - b_upto[day, k, missing - extra])
                            )
                        total += g_pmf[g] * (1 - f_upto[p + missing])
                    odds[day, i, k, j] = total
