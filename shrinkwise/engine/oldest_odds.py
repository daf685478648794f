"""How many full-price units oldest-first shoppers took, with reduced units there (numba).

Arrays in, arrays out; what the particle filter draws from where there are more kinds of shoppers.
"""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from shrinkwise.engine.kind_odds import poisson
from shrinkwise.engine.particles import binomial_cdf

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def oldest_odds(
    full: Ints,
    reduced: Ints,
    reduced_there: Ints,
    rates: Floats,
    shares: Floats,
    others: Floats,
    to_reduced: float,
    bargains: Floats,
) -> Floats:
    """Chances of the number of a day's full-price sales that oldest-first shoppers took.

    They take reduced units first, so that none of them buys at the full price while some are
    left; where none are left, those go on who found none.

    Parameters
    ----------
    full, reduced, reduced_there : array of int, shape (n_days,)
        Sales at both prices, and reduced units in the morning [units].
    rates, bargains : array of float, shape (n_days,)
        Ordinary and mean bargain shoppers [units per day].
    shares : array of float, shape (n_shares,)
        Oldest-first shares.
    others : array of float, shape (n_days,)
        Share of the ordinary shoppers who were not put off by old units.
    to_reduced : float
        Share of oldest-first and switching shoppers together, who take reduced units first: the
        more of them are the former, the fewer the latter.

    Returns
    -------
    array of float, shape (n_shares, n_days, full.max() + 2)
        Chance of fewer than 0, 1, 2, ... units.
    """
    upto = np.ones((len(shares), len(full), int(full.max()) + 2))
    _fill_oldest(full, reduced, reduced_there, rates, shares, others, to_reduced, bargains, upto)
    return upto


@njit(cache=True, nogil=True)
def _fill_oldest(  # type: ignore[no-untyped-def]
    full, reduced, reduced_there, rates, shares, others, to_reduced, bargains, upto
):
    most = full.max() + reduced_there.max() + 1
    o_pmf, o_upto = np.empty(most + 1), np.empty(most + 2)
    r_pmf, r_upto = np.empty(most + 1), np.empty(most + 2)
    f_pmf, f_upto = np.empty(most + 1), np.empty(most + 2)
    s_pmf, s_upto = np.empty(most + 1), np.empty(most + 2)
    b_pmf, b_upto = np.empty(most + 1), np.empty(most + 2)
    for i in range(len(shares)):
        for day in range(len(full)):
            p, there, below = full[day], reduced_there[day], upto[i, day]
            below[0] = 0.0
            if there == 0:
                binomial_cdf(p, min(shares[i] / others[day], 0.9999), below)
                continue
            if reduced[day] < there:
                continue
            rest = max(others[day] - shares[i], 1e-6)
            switching = min(max(to_reduced - shares[i], 0.0), rest)
            poisson(most, rates[day] * shares[i], o_pmf, o_upto)
            poisson(most, rates[day] * rest, r_pmf, r_upto)
            poisson(most, rates[day] * max(rest - switching, 1e-6), f_pmf, f_upto)
            poisson(most, rates[day] * max(switching, 1e-6), s_pmf, s_upto)
            poisson(most, bargains[day], b_pmf, b_upto)
            none = o_pmf[there] * r_pmf[p]
            for o in range(there):
                missing = there - o
                for s in range(missing):
                    none += o_pmf[o] * s_pmf[s] * (1 - b_upto[missing - s]) * f_pmf[p]
                for s in range(missing, missing + p + 1):
                    none += o_pmf[o] * s_pmf[s] * f_pmf[p + missing - s]
            below[1] = none
            for e in range(1, p + 1):
                below[e + 1] = below[e] + o_pmf[there + e] * r_pmf[p - e]
            total = max(below[p + 1], 1e-300)
            for e in range(1, p + 2):
                below[e] /= total
            for e in range(p + 2, len(below)):
                below[e] = 1.0
