"""The oldest-first share of a line and its stock by age, told from what reached its last day."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.paths import MOST_UNITS
from shrinkwise.engine.share_filter import Logged, follow, within_batches
from shrinkwise.records.ledger import LineLedger

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GRID = np.linspace(0.0025, 0.9975, 200)
"""Shares on which the posterior stands."""

COARSE = np.linspace(0.02, 0.98, 17)
PARTICLES, FEWER_PARTICLES = 96, 32
"""Of each share, and of each where all that is asked is which shares are worth a closer look."""

FAR = 12.0
"""Log likelihood below the best at which a share is out of the question."""

MOST_DAYS = 364
IMPOSSIBLE = 1e-6
"""Weight of a shelf that the disposal log contradicts: logs hold slips of the pen."""


@dataclass(frozen=True)
class StockPosterior:
    """What may be on the shelf, for each of some oldest-first shares.

    Attributes
    ----------
    shares : array of float, shape (n_shares,)
        Rising.
    units : array of int, shape (n_shares, n_particles, life)
        Units by age on the morning after the last night; age 0 is empty, since that morning's
        bake is not there yet.
    weights : array of float, shape (n_shares, n_particles)
        Probability of each under its share.
    """

    shares: Floats
    units: Ints
    weights: Floats

    def draws(self, shares: Floats, rng: np.random.Generator) -> NDArray[np.int16]:
        """Draw a stock for each oldest-first share, each from the nearest share that was followed.

        Parameters
        ----------
        shares : array of float, shape (n,)
        rng : numpy.random.Generator

        Returns
        -------
        array of int16, shape (life, n)
            Units by age; cut at `MOST_UNITS` in all, as the demand is [units].
        """
        middles = (self.shares[1:] + self.shares[:-1]) / 2
        nearest = np.searchsorted(middles, shares, side="right")
        upto = np.cumsum(self.weights, axis=1)[nearest]
        picked = (upto < rng.random(len(shares))[:, None] * upto[:, -1:]).sum(axis=1)
        drawn = np.minimum(np.cumsum(self.units[nearest, picked], axis=1), MOST_UNITS)
        return np.diff(drawn, axis=1, prepend=0).T.astype(np.int16)


@dataclass(frozen=True)
class SharePosterior:
    """What the records say of the oldest-first share.

    Attributes
    ----------
    weights : array of float, shape (len(GRID),)
        Probability of each share of `GRID`.
    stock : StockPosterior
        The stock by age after the last night, under each share.
    """

    weights: Floats
    stock: StockPosterior

    @property
    def mean(self) -> float:
        """Expected share."""
        return float(self.weights @ GRID)

    def interval(self, low: float = 0.05, high: float = 0.95) -> tuple[float, float]:
        """Shares between which the truth lies with probability `high` - `low`."""
        low_share, high_share = np.interp([low, high], *self._distribution())
        return float(low_share), float(high_share)

    def draws(self, n: int, rng: np.random.Generator) -> Floats:
        """Shares drawn from the posterior, shape (n,)."""
        return np.interp(rng.random(n), *self._distribution())

    def _distribution(self) -> tuple[Floats, Floats]:
        half = (GRID[1] - GRID[0]) / 2
        edges = np.append(GRID - half, GRID[-1] + half)
        return np.append(0.0, np.cumsum(self.weights)), np.clip(edges, 0.0, 1.0)


OldestOdds = Callable[[Floats], Floats]
"""Chances of the sales from the old end by share and day: see `shrinkwise.engine.oldest_odds`."""


def share_posterior(
    ledger: LineLedger,
    seed: int,
    early_by_age: Ints | None = None,
    oldest: OldestOdds | None = None,
) -> SharePosterior:
    """Weigh every share by how well it explains the disposal log.

    With bakes and sales known, the share decides how much of a batch is still there on its last
    day. The age of the stock is followed by a particle filter (Gordon, Salmond & Smith 1993,
    doi 10.1049/ip-f-2.1993.0015) in which the day's oldest-first shoppers are drawn given that
    day's disposals, so that no draw is wasted (a fully adapted filter; Pitt & Shephard 1999,
    doi 10.1080/01621459.1999.10474153). The prior is flat.

    Parameters
    ----------
    ledger : LineLedger
        With a shelf life of one day all units are equally fresh, and every share stays likely.
    seed : int
    early_by_age : array of int, shape (n_days, life), optional
        Disposed of before the close of their last day, where the age is known
        (`shrinkwise.shelf.dated`).
    oldest : callable, optional
        For the days that are followed, where there are more kinds of shoppers.

    Returns
    -------
    SharePosterior
        From the last year of the ledger.
    """
    coarse = _filter(ledger, COARSE, seed, early_by_age, oldest=oldest, particles=FEWER_PARTICLES)
    fine = _plausible(coarse.log_likelihood)
    run = _filter(ledger, fine, seed, early_by_age, oldest=oldest)
    return SharePosterior(_smoothed(fine, run.log_likelihood), run.stock)


def no_evidence(stock: StockPosterior) -> SharePosterior:
    """Every share equally likely: the answer when the records are silent."""
    return SharePosterior(np.full(len(GRID), 1 / len(GRID)), stock)


def stock_posterior(
    ledger: LineLedger,
    seed: int,
    disposals_known: bool,
    shares: Floats = COARSE,
    early_by_age: Ints | None = None,
) -> StockPosterior:
    """The stock by age under each share, where the share itself is not asked for.

    Parameters
    ----------
    ledger : LineLedger
    seed : int
    disposals_known : bool
        Without a disposal log shoppers come as they may and what is out of date leaves the shelf
        unlogged, so that there can be less on it than the ledger carries, and never more.
    shares : array of float, shape (n_shares,)
    early_by_age : array of int, shape (n_days, life), optional
        As for `share_posterior`.
    """
    return _filter(ledger, shares, seed, early_by_age, disposals_known).stock


@dataclass(frozen=True)
class _Filtered:
    log_likelihood: Floats
    stock: StockPosterior


def _filter(
    ledger: LineLedger,
    shares: Floats,
    seed: int,
    early_by_age: Ints | None,
    disposals_known: bool = True,
    oldest: OldestOdds | None = None,
    particles: int = PARTICLES,
) -> _Filtered:
    """Follow the age of the stock under each share through the ledger's last year."""
    life, n_days = ledger.line.shelf_life_days, len(ledger.sold)
    first = max(0, n_days - MOST_DAYS)
    rng = np.random.default_rng(seed)
    known = np.zeros((n_days, life), np.int64) if early_by_age is None else early_by_age
    run = follow(
        Logged(
            baked=ledger.baked[first:],
            sold=np.maximum(ledger.sold[first:], 0),
            early=np.maximum(ledger.disposed_early - known[:, :-1].sum(axis=1), 0)[first:],
            disposed_last_day=np.maximum(ledger.disposed_last_day - known[:, -1], 0)[first:],
            on_hand_close=ledger.on_hand_close[first:],
            early_by_age=known[first:],
        ),
        disposals_known,
        life,
        shares,
        rng.random((n_days - first, particles + 1)),
        IMPOSSIBLE,
        None if oldest is None else oldest(shares),
    )
    log_likelihood, units, weights = run
    batches = np.zeros(life, np.int64)
    recent = ledger.baked[:-life:-1]
    batches[1 : 1 + len(recent)] = recent
    stock = StockPosterior(shares, within_batches(units, batches), weights)
    return _Filtered(log_likelihood, stock)


def _near(log_likelihood: Floats) -> NDArray[np.bool_]:
    """Shares that are not out of the question."""
    return np.asarray(log_likelihood > log_likelihood.max() - FAR)


def _plausible(log_likelihood: Floats) -> Floats:
    """Shares closer to each other, over those not out of the question and a step more."""
    near = np.flatnonzero(_near(log_likelihood))
    low, high = max(near[0] - 1, 0), min(near[-1] + 1, len(COARSE) - 1)
    return np.linspace(COARSE[low], COARSE[high], len(COARSE))


def _smoothed(shares: Floats, log_likelihood: Floats) -> Floats:
    """Posterior on GRID, freed of the filter's own noise.

    Near its top a log likelihood is close to a cubic in the share, so one is fitted there.
    """
    below, near = log_likelihood.max() - log_likelihood, _near(log_likelihood)
    curve = np.polynomial.Polynomial.fit(
        shares[near], log_likelihood[near], min(3, near.sum() - 1), w=np.exp(-below[near] / 8)
    )
    inside = (shares[near].min() <= GRID) & (shares[near].max() >= GRID)
    if shares[near].min() <= COARSE[0]:
        inside |= COARSE[0] >= GRID
    if shares[near].max() >= COARSE[-1]:
        inside |= COARSE[-1] <= GRID
    # a share that is told to less than a step of the grid
    inside[np.abs(GRID - shares[log_likelihood.argmax()]).argmin()] = True
    on_grid = np.where(inside, curve(GRID), -np.inf)
    return _probabilities(on_grid)


def _probabilities(log_density: Floats) -> Floats:
    density = np.exp(log_density - log_density.max())
    return density / density.sum()
