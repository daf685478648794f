"""Possible futures of the daily demand, drawn from what was learned of each line."""

from dataclasses import dataclass
from datetime import date
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.effects import weekly_change

Floats = NDArray[np.float64]

MOST_UNITS = 20_000
"""Draws are cut here [units a day], so that a week's stock still fits the engine's int16."""

INTERVAL = (0.05, 0.95)
"""Quantiles of the paths between which nine of ten lie."""

LARGEST_SHARED = 0.8
"""Share of a line's own dispersion that may be the store's shock: it keeps some of its own."""

_OF_THE_STORE = crc32(b"what befalls all lines of the store")


@dataclass(frozen=True)
class DemandPaths:
    """Possible futures of the daily demand.

    Attributes
    ----------
    start : datetime.date
    weekday : array of int, shape (n_days,)
    is_open : array of bool, shape (n_days,)
    units : dict of str to array of int16, shape (n_days, n_paths)
        Units wanted, by line; path k of every line belongs to the same future.
    means : dict of str to array of float, shape (n_days, n_paths)
        What could be known on the first day of each path's demand: its mean but for the drift
        and the shocks that come [units per day].
    """

    start: date
    weekday: NDArray[np.int64]
    is_open: NDArray[np.bool_]
    units: dict[str, NDArray[np.int16]]
    means: dict[str, NDArray[np.float64]]


@dataclass(frozen=True)
class StoreShocks:
    """What all lines of a store share on each day of each path.

    Attributes
    ----------
    level : array of float, shape (n_days, n_paths)
        How far the level of all lines has drifted [log units].
    day : array of float, shape (n_days, n_paths)
        The day's shock, standard normal.
    variance : float
        Of the factor that the shock stands for.
    """

    level: Floats
    day: Floats
    variance: float


def store_shocks(ahead: NDArray[np.int64], n_paths: int, variance: float, seed: int) -> StoreShocks:
    """Draw what all lines share; the same for every line of the same seed.

    Parameters
    ----------
    ahead : array of int, shape (n_days,)
        Days after the last one of the records.
    n_paths : int
    variance : float
        Of the day's shock, as a share of the mean.
    seed : int
    """
    level, day = (np.random.default_rng([seed, _OF_THE_STORE, part]) for part in range(2))
    return StoreShocks(
        drifted(ahead, n_paths, weekly_change("store"), level),
        day.standard_normal((len(ahead), n_paths)),
        variance,
    )


def drifted(
    ahead: NDArray[np.int64], n_paths: int, change: float, rng: np.random.Generator
) -> Floats:
    """A random walk from week to week; the first week is the one that the level stands for.

    Parameters
    ----------
    ahead : array of int, shape (n_days,)
        Days after the last one of the records.
    n_paths : int
    change : float
        Standard deviation of a week's step [log units].
    rng : numpy.random.Generator

    Returns
    -------
    array of float, shape (n_days, n_paths)
        Such that the mean of its exponential is 1.
    """
    week = np.maximum(ahead - 1, 0) // 7
    steps = change * rng.standard_normal((int(week.max(initial=0)) + 1, n_paths))
    steps[0] = 0
    return np.asarray(steps.cumsum(axis=0)[week] - 0.5 * change**2 * week[:, None], np.float64)


def drawn_units(
    mean: Floats, alpha: Floats, shocks: StoreShocks, rng: np.random.Generator
) -> tuple[NDArray[np.int64], Floats]:
    """Units wanted: negative binomial round the mean, part of whose spread the store shares; and
    the rates from which they were drawn, both of the mean's shape [units per day].

    The factors multiply, so that (1 + alpha) = (1 + shared) (1 + own).

    Parameters
    ----------
    mean : array of float, shape (n_days, n_paths)
        [units per day].
    alpha : array of float, shape (n_paths,)
        Of variance = mean + alpha mean^2.
    shocks : StoreShocks
    rng : numpy.random.Generator
    """
    spread, own = parts_of_noise(alpha, shocks.variance)
    factor = np.exp(spread * shocks.day - spread**2 / 2)
    rate = mean * factor * rng.gamma(1 / own, own, size=mean.shape)
    return rng.poisson(rate), rate


def parts_of_noise(alpha: Floats, shock: float) -> tuple[Floats, Floats]:
    """A line's spread with the store's shock, and the dispersion that is its own.

    Parameters
    ----------
    alpha : array of float
        Of variance = mean + alpha mean^2.
    shock : float
        Variance of the store's shock, as a share of the mean.

    Returns
    -------
    spread, own : array of float
        Standard deviation of the log of the shock's factor; alpha given the shock.
    """
    shared = np.minimum(shock, LARGEST_SHARED * alpha)
    return np.sqrt(np.log1p(shared)), (1 + alpha) / (1 + shared) - 1
