"""The oldest-first share of a line, told from what reached its last day."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

from shrinkwise.records.ledger import LineLedger

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GRID = np.linspace(0.0025, 0.9975, 200)
"""Shares on which the posterior stands."""

COARSE = np.linspace(0.02, 0.98, 17)
PARTICLES = 96
FAR = 12.0
"""Log likelihood below the best at which a share is out of the question."""

MOST_DAYS = 364
IMPOSSIBLE = 1e-6
"""Weight of a shelf that the disposal log contradicts: logs hold slips of the pen."""


@dataclass(frozen=True)
class SharePosterior:
    """What the records say of the oldest-first share.

    Attributes
    ----------
    weights : array of float, shape (len(GRID),)
        Probability of each share of `GRID`.
    sold_by_age : array of float, shape (life,)
        Units sold by age over the days used, as attributed by the fitted share [units].
    disposed, baked : float
        Units disposed of on their last day and units baked, over the same days.
    """

    weights: Floats
    sold_by_age: Floats
    disposed: float
    baked: float

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


def share_posterior(ledger: LineLedger, seed: int) -> SharePosterior:
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

    Returns
    -------
    SharePosterior
        From the last year of the ledger.
    """
    coarse = _filter(ledger, COARSE, seed)
    low, high = _plausible(coarse.log_likelihood)
    fine = np.linspace(low, high, len(COARSE))
    run = _filter(ledger, fine, seed)
    weights, on_fine = _smoothed(fine, run.log_likelihood)
    return SharePosterior(weights, on_fine @ run.sold_by_age, run.disposed, run.baked)


def no_evidence(ledger: LineLedger) -> SharePosterior:
    """Every share equally likely: the answer when the records are silent."""
    return SharePosterior(
        weights=np.full(len(GRID), 1 / len(GRID)),
        sold_by_age=np.full(ledger.line.shelf_life_days, np.nan),
        disposed=float(ledger.disposed_last_day.sum()),
        baked=float(ledger.baked.sum()),
    )


@dataclass(frozen=True)
class _Filtered:
    log_likelihood: Floats
    sold_by_age: Floats
    disposed: float
    baked: float


def _filter(ledger: LineLedger, shares: Floats, seed: int) -> _Filtered:
    """Follow the age of the stock under each share, arrays of shape (n_shares, PARTICLES, life)."""
    life = ledger.line.shelf_life_days
    first = max(0, len(ledger.sold) - MOST_DAYS)
    settled = first + life
    rng = np.random.default_rng(seed)
    shelf = np.zeros((len(shares), PARTICLES, life), np.int64)
    log_likelihood = np.zeros(len(shares))
    log_weights = np.zeros((len(shares), PARTICLES))
    sold_by_age = np.zeros((len(shares), life))
    for day in range(first, len(ledger.sold)):
        shelf[..., 0] = ledger.baked[day]
        # the same chances for every share, so that shares differ by what they explain alone
        u, resample_at = rng.random(PARTICLES), rng.random()
        left, likelihood = _after_sales(shelf, ledger, day, shares, u)
        if day >= settled:
            log_weights += np.log(likelihood)
            sold_by_age += ((shelf - left) * _normal(log_weights)[..., None]).sum(axis=1)
        shelf = _overnight(left, int(ledger.on_hand_close[day]))
        gain, log_weights, shelf = _resampled(log_weights, shelf, resample_at)
        log_likelihood += gain
    window = slice(settled, None)
    return _Filtered(
        log_likelihood + _mean_log(log_weights),
        sold_by_age,
        float(ledger.disposed_last_day[window].sum()),
        float(ledger.baked[window].sum()),
    )


def _after_sales(
    shelf: Ints, ledger: LineLedger, day: int, shares: Floats, u: Floats
) -> tuple[Ints, Floats]:
    """Units left at close by age, and the likelihood of the night's disposals."""
    sold, early = max(int(ledger.sold[day]), 0), int(ledger.disposed_early[day])
    thrown = int(ledger.disposed_last_day[day])
    total = shelf.sum(axis=-1)
    rest = np.maximum(total - sold - early, 0)
    oldest = shelf[..., -1]
    # what is thrown is oldest - k, held between 0 and rest; solve for the k that give `thrown`
    low = np.where(thrown < rest, oldest - thrown, 0)
    high = np.where((thrown > 0) | (rest == 0), oldest - thrown, sold)
    high = np.where((thrown == 0) & (rest == 0), sold, high)
    low, high = np.maximum(low, 0), np.minimum(high, sold)
    possible = (low <= high) & (oldest >= thrown) & (thrown <= rest)
    low = np.where(possible, low, 0)
    high = np.where(possible, high, sold)

    below = np.zeros((len(shares), sold + 2))
    below[:, 1:] = binom.cdf(np.arange(sold + 1), sold, shares[:, None])
    from_low = np.take_along_axis(below, low, axis=1)
    span = np.take_along_axis(below, high + 1, axis=1) - from_low
    target = from_low + u * span
    k = (below[:, None, 1:] < target[..., None]).sum(axis=-1)
    k = np.clip(k, low, high)

    cumulative = np.cumsum(shelf[..., ::-1], axis=-1)
    start, stop = k[..., None], np.maximum(total - (sold - k) - early, k)[..., None]
    kept = np.diff(np.clip(cumulative, start, stop) - start, axis=-1, prepend=0)[..., ::-1]
    return kept, np.where(possible, np.maximum(span, IMPOSSIBLE), IMPOSSIBLE)


def _overnight(left: Ints, on_hand: int) -> Ints:
    """Dispose of the last day, age the rest and agree with the ledger's total."""
    older = np.zeros_like(left)
    older[..., 1:] = left[..., :-1]
    cumulative = np.cumsum(older[..., ::-1], axis=-1)
    kept = np.diff(np.minimum(cumulative, on_hand), axis=-1, prepend=0)[..., ::-1]
    if kept.shape[-1] > 1:
        kept[..., 1] += on_hand - kept.sum(axis=-1)
    return kept


def _resampled(log_weights: Floats, shelf: Ints, u: float) -> tuple[Floats, Floats, Ints]:
    """Systematic resampling of every share whose particles have become too unequal."""
    normal = _normal(log_weights)
    unequal = 1 / np.sum(normal**2, axis=1) < PARTICLES / 2
    if not unequal.any():
        return np.zeros(len(shelf)), log_weights, shelf
    positions = (np.arange(PARTICLES) + u) / PARTICLES
    cumulative = np.cumsum(normal, axis=1)
    picked = (cumulative[:, None, :] < positions[None, :, None]).sum(axis=-1)
    picked = np.minimum(picked, PARTICLES - 1)
    drawn = np.take_along_axis(shelf, picked[..., None], axis=1)
    gain = np.where(unequal, _mean_log(log_weights), 0.0)
    return (
        gain,
        np.where(unequal[:, None], 0.0, log_weights),
        np.where(unequal[:, None, None], drawn, shelf),
    )


def _normal(log_weights: Floats) -> Floats:
    weights = np.exp(log_weights - log_weights.max(axis=1, keepdims=True))
    return weights / weights.sum(axis=1, keepdims=True)


def _mean_log(log_weights: Floats) -> Floats:
    most = log_weights.max(axis=1)
    return most + np.log(np.mean(np.exp(log_weights - most[:, None]), axis=1))


def _plausible(log_likelihood: Floats) -> tuple[float, float]:
    """Range of shares worth a closer look: those not out of the question, and a step more."""
    near = np.flatnonzero(log_likelihood > log_likelihood.max() - FAR)
    low, high = max(near[0] - 1, 0), min(near[-1] + 1, len(COARSE) - 1)
    return float(COARSE[low]), float(COARSE[high])


def _smoothed(shares: Floats, log_likelihood: Floats) -> tuple[Floats, Floats]:
    """Posterior on GRID and on `shares`, freed of the filter's own noise.

    Near its top a log likelihood is close to a cubic in the share, so one is fitted there.
    """
    below = log_likelihood.max() - log_likelihood
    near = below < FAR
    curve = np.polynomial.Polynomial.fit(
        shares[near], log_likelihood[near], min(3, near.sum() - 1), w=np.exp(-below[near] / 8)
    )
    inside = (shares[near].min() <= GRID) & (shares[near].max() >= GRID)
    if shares[near].min() <= COARSE[0]:
        inside |= COARSE[0] >= GRID
    if shares[near].max() >= COARSE[-1]:
        inside |= COARSE[-1] <= GRID
    on_grid = np.where(inside, curve(GRID), -np.inf)
    on_shares = np.where(near, curve(shares), -np.inf)
    return _probabilities(on_grid), _probabilities(on_shares)


def _probabilities(log_density: Floats) -> Floats:
    density = np.exp(log_density - log_density.max())
    return density / density.sum()
