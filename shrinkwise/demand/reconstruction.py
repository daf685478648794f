"""Bakes that nobody logged, drawn as they may have been: in balance with every sale and disposal.

A particle filter follows the shelf (Gordon, Salmond & Smith 1993, doi 10.1049/ip-f-2.1993.0015).
Each day's bake is drawn given its sales and what balance says of the stock at close (Pitt &
Shephard 1999, doi 10.1080/01621459.1999.10474153); a course that leads to the logged disposals is
then picked and traced back to its first day (Kitagawa 1996, doi 10.2307/1390750).

A batch that is seen again left something every day: those days were not sold out. On any other
day, with b the bake and s the sales, P(b just enough) P(D >= s) stands against
P(b more than enough) P(D = s) P(all the rest was sold in time).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtr, ndtr, ndtri

from shrinkwise.demand.chances import log_chances
from shrinkwise.records.inferred_bakes import stock_bounds
from shrinkwise.records.ledger import LineLedger

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

PARTICLES = 64
IMPOSSIBLE = 1e-9
"""Weight of a shelf that the logs contradict: logs hold slips of the pen."""


@dataclass(frozen=True)
class Beliefs:
    """What one reconstruction each takes for granted; the first axis runs over them.

    Attributes
    ----------
    means : array of float, shape (n, n_days)
        Mean demand [units per day].
    dispersion : array of float, shape (n,)
        alpha of variance = mean + alpha mean^2.
    share : array of float, shape (n,)
        Oldest-first share.
    level : array of float, shape (n, 7)
        By weekday: median level of a bake as a multiple of the day's mean demand; 0 is no bake.
    spread : array of float, shape (n,)
        Standard deviation of the log of the level.
    credit : array of float, shape (n,)
        Share of the units on hand that is taken off the level.
    """

    means: Floats
    dispersion: Floats
    share: Floats
    level: Floats
    spread: Floats
    credit: Floats


@dataclass(frozen=True)
class Reconstructions:
    """Drawn courses of the shelf.

    Attributes
    ----------
    baked : array of int, shape (n, n_days)
    on_hand : array of int, shape (n, n_days + 1)
        Before each day's bake; last, after the last night.
    sold_out : array of bool, shape (n, n_days)
    """

    baked: Ints
    on_hand: Ints
    sold_out: Bools


def reconstruct(
    ledger: LineLedger, until: Floats, beliefs: Beliefs, rng: np.random.Generator
) -> Reconstructions:
    """Draw one course of the shelf under each belief.

    Parameters
    ----------
    ledger : LineLedger
        With a disposal log; its own bakes are not looked at.
    until : array of float, shape (n_days, 2)
        Shares of a day's demand between which its last unit was sold: a last sale at noon is a
        sign of an empty shelf.
    beliefs : Beliefs
    rng : numpy.random.Generator
    """
    seen = _Seen.of(ledger)
    logs = log_chances(seen.sold, np.log(beliefs.means), np.log(beliefs.dispersion), until)
    exact, floor = np.exp(logs[0]), np.exp(logs[1])
    n, n_days = beliefs.means.shape
    shelf = np.zeros((n, PARTICLES, ledger.line.shelf_life_days), np.int64)
    log_weights = np.zeros((n, PARTICLES))
    baked, parent = np.zeros((2, n_days, n, PARTICLES), np.int64)
    on_hand = np.zeros((n_days + 1, n, PARTICLES), np.int64)
    sold_out = np.zeros((n_days, n, PARTICLES), np.bool_)
    for day in range(n_days):
        on_hand[day] = shelf.sum(axis=-1)
        if ledger.is_open[day]:
            bake = _bakes(on_hand[day], seen, day, beliefs, exact[:, day], floor[:, day], rng)
            baked[day], sold_out[day], likelihood = bake
            log_weights += np.log(likelihood)
        shelf[..., 0] = baked[day]
        shelf, likelihood = _night(shelf, seen, day, beliefs.share, rng.random((n, PARTICLES)))
        log_weights += np.log(likelihood)
        parent[day], log_weights = _survivors(log_weights, rng.random())
        shelf = np.take_along_axis(shelf, parent[day][..., None], axis=1)
    on_hand[n_days] = shelf.sum(axis=-1)
    at = _one_course(parent, log_weights, rng)
    each, mornings = np.arange(n), np.arange(n_days + 1)[:, None]
    return Reconstructions(
        baked[mornings[:-1], each, at[:-1]].T,
        on_hand[mornings, each, at].T,
        sold_out[mornings[:-1], each, at[:-1]].T,
    )


def _one_course(parent: Ints, log_weights: Floats, rng: np.random.Generator) -> Ints:
    """Particle of each morning on one course that was picked by weight, shape (n_days + 1, n)."""
    n_days, n, _ = parent.shape
    at = np.empty((n_days + 1, n), np.int64)
    cumulative = np.cumsum(_normal(log_weights), axis=1)
    at[n_days] = np.minimum((cumulative < rng.random((n, 1))).sum(axis=1), PARTICLES - 1)
    for day in range(n_days - 1, -1, -1):
        at[day] = parent[day, np.arange(n), at[day + 1]]
    return at


@dataclass(frozen=True)
class _Seen:
    """What is logged, and what balance makes of it; arrays begin with the days.

    `thrown_later[day, age]` are units of the batch of that age that will be thrown.
    """

    sold: Ints
    early: Ints
    thrown: Ints
    thrown_later: Ints
    least: Ints
    most: Ints
    weekday: Ints

    @classmethod
    def of(cls, ledger: LineLedger) -> "_Seen":
        life, reduce_on_day = ledger.line.shelf_life_days, ledger.line.reduce_on_day
        sold, thrown = np.maximum(ledger.sold, 0), ledger.disposed_last_day
        bounds = stock_bounds(
            sold, ledger.sold_reduced, ledger.disposed_early, thrown, life, reduce_on_day
        )
        after = np.concatenate([thrown, np.zeros(life, np.int64)])
        later = [after[life - 1 - age :][: len(sold)] for age in range(life)]
        return cls(
            sold=sold,
            early=ledger.disposed_early,
            thrown=thrown,
            thrown_later=np.stack(later, axis=1),
            least=bounds.least,
            most=np.where(bounds.most < 0, np.iinfo(np.int32).max, bounds.most),
            weekday=ledger.weekday,
        )


def _bakes(
    on_hand: Ints,
    seen: _Seen,
    day: int,
    beliefs: Beliefs,
    exact: Floats,
    floor: Floats,
    rng: np.random.Generator,
) -> tuple[Ints, Bools, Floats]:
    """The bake, whether it sold out, and how likely the day's sales were; (n, PARTICLES)."""
    enough = seen.sold[day] + seen.early[day] - on_hand
    least = np.maximum(enough + max(int(seen.least[day]), 1), seen.thrown_later[day, 0])
    least = np.maximum(least, 0)
    most = np.maximum(enough + seen.most[day], least)
    level = np.maximum(beliefs.level[:, seen.weekday[day]] * beliefs.means[:, day], 1e-9)
    middle, spread = np.log(level)[:, None], beliefs.spread[:, None]
    credited = beliefs.credit[:, None] * on_hand

    def at_most(units: Ints) -> Floats:
        return ndtr((np.log(units + 0.5 + credited) - middle) / spread)

    below = np.where(least > 0, at_most(np.maximum(least - 1, 0)), 0.0)
    span = np.maximum(at_most(most) - below, 0.0)
    just = np.maximum(enough, 0)
    just_enough = at_most(just) - np.where(just > 0, at_most(np.maximum(just - 1, 0)), 0.0)
    possible = (enough >= 0) & (seen.least[day] == 0)
    if_out = np.where(possible, just_enough * floor[:, None], 0.0)
    if_left = span * exact[:, None]
    likelihood = if_out + if_left
    lost = likelihood < IMPOSSIBLE
    sold_out = ~lost & (rng.random(on_hand.shape) * likelihood < if_out)
    chance = np.clip(below + rng.random(on_hand.shape) * span, 1e-12, 1 - 1e-12)
    drawn = np.exp(middle + spread * ndtri(chance)) - credited
    more = np.clip(np.ceil(drawn - 0.5), least, most).astype(np.int64)
    baked = np.where(sold_out, just, np.where(lost, least, more))
    return baked, sold_out, np.maximum(likelihood, IMPOSSIBLE)


def _night(shelf: Ints, seen: _Seen, day: int, share: Floats, u: Floats) -> tuple[Ints, Floats]:
    """The shelf next morning, and the likelihood of the night's disposals.

    The oldest-first shoppers are drawn such that what is thrown tonight and later is left.
    """
    sold, early, thrown = int(seen.sold[day]), int(seen.early[day]), int(seen.thrown[day])
    total = shelf.sum(axis=-1)
    rest = np.maximum(total - sold - early, 0)
    from_oldest = np.cumsum(shelf[..., ::-1], axis=-1)
    oldest = shelf[..., -1]
    low = np.where(thrown < rest, oldest - thrown, 0)
    high = np.where((thrown > 0) | (rest == 0), oldest - thrown, sold)
    high = np.where((thrown == 0) & (rest == 0), sold, high)
    for age in np.flatnonzero(seen.thrown_later[day, :-1]):
        kept = seen.thrown_later[day, age]
        older = from_oldest[..., -age - 2]
        high = np.minimum(high, older + shelf[..., age] - kept)
        low = np.maximum(low, sold + early - (total - older - kept))
    low, high = np.maximum(low, 0), np.minimum(high, sold)
    possible = (low <= high) & (oldest >= thrown) & (thrown <= rest)
    low, high = np.where(possible, low, 0), np.where(possible, high, sold)
    below = np.zeros((len(share), sold + 2))
    below[:, 1:] = bdtr(np.arange(sold + 1), sold, share[:, None])
    from_low = np.take_along_axis(below, low, axis=1)
    span = np.take_along_axis(below, high + 1, axis=1) - from_low
    target = from_low + u * span
    k = np.stack([np.searchsorted(row[1:], at) for row, at in zip(below, target, strict=True)])
    k = np.clip(k, low, high)
    start, stop = k[..., None], np.maximum(total - (sold - k) - early, k)[..., None]
    kept_by_age = np.diff(np.clip(from_oldest, start, stop) - start, axis=-1, prepend=0)[..., ::-1]
    morning = np.zeros_like(shelf)
    morning[..., 1:] = kept_by_age[..., :-1]
    return morning, np.where(possible, np.maximum(span, IMPOSSIBLE), IMPOSSIBLE)


def _survivors(log_weights: Floats, u: float) -> tuple[Ints, Floats]:
    """Which particle each one goes on from; resampled where they have become too unequal."""
    normal = _normal(log_weights)
    unequal = 1 / np.sum(normal**2, axis=1) < PARTICLES / 2
    parent = np.broadcast_to(np.arange(PARTICLES), log_weights.shape).copy()
    positions = (np.arange(PARTICLES) + u) / PARTICLES
    for row in np.flatnonzero(unequal):
        picked = np.searchsorted(np.cumsum(normal[row]), positions)
        parent[row] = np.minimum(picked, PARTICLES - 1)
    return parent, np.where(unequal[:, None], 0.0, log_weights)


def _normal(log_weights: Floats) -> Floats:
    weights = np.exp(log_weights - log_weights.max(axis=1, keepdims=True))
    return weights / weights.sum(axis=1, keepdims=True)
