"""What the store does now, as a policy that can be played on any future."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE, Policy, Shelf, largest_level
from shrinkwise.engine.simulate import Flows, simulate
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.steadiness import FEWEST_WEEKS, steady_weeks
from shrinkwise.profile.line import Line
from shrinkwise.records.inferred_bakes import bake_weekdays
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.single_orders import single_orders

Floats = NDArray[np.float64]

RECENT_DAYS = 7 * FEWEST_WEEKS
CREDIT_DAYS = 182
LOW_STOCK_SHARE = 0.6
UNLOGGED_MULTIPLES = np.linspace(0.6, 4.0, 69)
BAKE_DAY_SHARE = 0.5
"""A weekday on which the line was baked at least this often is one of its bake days."""


@dataclass(frozen=True)
class Habit:
    """The present habit of a line.

    Attributes
    ----------
    bake_days : tuple of int
        Weekdays, Monday 0.
    credit : float
        Share of the units on hand that the store takes off its batch, 0 to 1.
    multiples : dict of int to array of float, shape (n_readings, n_levels)
        By weekday, the levels (batch plus credited stock) of the past weeks, back to where they
        were others, as multiples of the demand that was expected until the next bake. There is one
        reading where the bakes are known, and one for each reconstruction of them where they are
        not.
    inferred : bool
        The bakes are not logged. Where they do not follow from sales and disposals either, a
        top-up that leaves as much unsold as was logged stands in for the habit.
    """

    bake_days: tuple[int, ...]
    credit: float
    multiples: dict[int, Floats]
    inferred: bool = False


def present_habit(ledger: LineLedger, demand: DemandModel, futures: Futures) -> Habit:
    """Read the habit from the bakes log.

    Batches follow batch = level - credit x units on hand. The credit is fitted by least squares
    over half a year. The bake days are those of the last eight weeks; the levels are kept as
    multiples of the demand expected until the next bake, since a store follows its seasons, over
    as many weeks as they have been the same (`planning.steadiness`).

    Parameters
    ----------
    ledger : LineLedger
    demand : DemandModel
    futures : Futures
        On which a stand-in is fitted where the bakes are not known.
    """
    if not ledger.bakes_known:
        n_readings = len(demand.lines[ledger.line.name].reconstructions) or 1
        return _unlogged(ledger, futures, n_readings)
    weekday = np.array([day.weekday() for day in ledger.dates])
    age = np.arange(len(weekday))[::-1]
    recent = (age < RECENT_DAYS) & ledger.is_open
    if not (recent & (ledger.baked > 0)).any() and (ledger.baked > 0).any():
        # a line that was not baked of late keeps the habit of its last bakes
        recent = (age < age[ledger.baked > 0].min() + RECENT_DAYS) & ledger.is_open
    baked = recent & (ledger.baked > 0)
    of_weekday = [recent & (weekday == day) for day in range(7)]
    often = [day for day in range(7) if of_weekday[day].any() and _share(baked, of_weekday[day])]
    bake_days = tuple(often or (int(day) for day in np.unique(weekday[baked])))
    expected = demand.expected(ledger.line.name, ledger.dates)
    need = _needs(expected[:, None], weekday, ledger.line.shelf_life_days, bake_days)[:, 0]
    usual = ledger.is_open & ~single_orders(ledger.sold)
    could_bake = usual & np.isin(weekday, bake_days) & (need > 0)
    credit = _credit(ledger, need, weekday, could_bake & (age < CREDIT_DAYS))
    steady = could_bake & (recent | (age < _steady_days(ledger, need, credit, could_bake, age)))
    multiples = {
        day: _multiples(ledger, need, credit, days)[None]
        for day in bake_days
        if (ledger.baked[days := steady & (weekday == day)] > 0).any()
    }
    return Habit(
        bake_days=bake_days,
        credit=credit,
        multiples=multiples,
        inferred=ledger.bakes_inferred,
    )


def habit_policy(habit: Habit, line: Line, futures: Futures, seed: int) -> Policy:
    """The habit on given futures: each bake takes the multiple of a past bake of its weekday.

    The multiple is of the mean demand of the future itself: where demand turns out higher than
    the records let expect, the store's own people would see it too. Path k takes reading k
    modulo their number, as its demand and its shoppers are of that reconstruction.

    Parameters
    ----------
    habit : Habit
    line : Line
        As it is now, whatever shelf life is studied: the habit does not know of another.
    futures : Futures
    seed : int

    Returns
    -------
    Policy
        One plan, with a level for each path.
    """
    weekday, n_paths = futures.days.weekday, futures.n_paths
    need = _needs(futures.means, weekday, line.shelf_life_days, habit.bake_days)
    most = largest_level(line.shelf_life_days, line.batch_step)
    rng = np.random.default_rng(seed)
    levels = np.full((1, len(weekday), n_paths), NO_BAKE, np.int16)
    for day, of_week in enumerate(weekday):
        seen = habit.multiples.get(int(of_week))
        if seen is not None:
            reading = np.arange(n_paths) % len(seen)
            drawn = need[day] * seen[reading, rng.integers(seen.shape[1], size=n_paths)]
            levels[0, day] = np.minimum(np.floor(drawn + rng.random(n_paths)), most)
    return Policy(levels, np.array([habit.credit]), line.batch_step, line.units_per_pan)


def _unlogged(ledger: LineLedger, futures: Futures, n_readings: int) -> Habit:
    """The top-up whose share of units left unsold at full price comes closest to the log's.

    It is found for each reading apart, on the paths that are its own: the fewer shoppers take
    the oldest units, the less can have been baked for no more to be left.
    """
    line, weekday = ledger.line, futures.days.weekday
    days = bake_weekdays(ledger.bake_seen, ledger.is_open, ledger.weekday)
    baking = futures.days.is_open & np.isin(weekday, days)
    need = _needs(futures.means, weekday, line.shelf_life_days, days)
    tried = np.round(UNLOGGED_MULTIPLES[:, None, None] * need)
    levels = np.minimum(tried, largest_level(line.shelf_life_days, line.batch_step))
    levels = np.where(baking[:, None], levels, NO_BAKE).astype(np.int16)
    policy = Policy(levels, np.ones(len(levels)), line.batch_step, line.units_per_pan)
    shelf = Shelf(line.shelf_life_days, line.reduce_on_day, futures.fussy_until_day)
    flows = simulate(futures.streams, policy, shelf, futures.days)
    left, logged = _left_unsold(flows, ledger)
    sold = flows.sold_by_age.sum(axis=1)
    multiples = []
    for reading in range(n_readings):
        own = slice(reading, None, n_readings)
        share = left[:, own].sum(axis=1) / np.maximum(sold[:, own].sum(axis=1), 1)
        multiples.append(UNLOGGED_MULTIPLES[np.abs(share - logged).argmin()])
    return Habit(
        bake_days=days,
        credit=1.0,
        multiples=dict.fromkeys(days, np.array(multiples)[:, None]),
        inferred=True,
    )


def _left_unsold(flows: Flows, ledger: LineLedger) -> tuple[NDArray[np.int32], float]:
    """Units that were not sold at the full price, shape (n_plans, n_paths), and their logged share.

    They were disposed of or sold reduced, the latter where the till tells. Without a disposal
    log they are those that were given the reduced price.
    """
    recent = slice(-CREDIT_DAYS, None)
    left, logged = flows.disposed, ledger.disposed_last_day[recent].sum()
    if logged == 0 and ledger.labelled.any():
        left, logged = flows.labelled, ledger.labelled[recent].sum()
    elif ledger.sold_reduced.any():
        left = left + flows.sold_reduced
        logged = logged + ledger.sold_reduced[recent].sum()
    return left, float(logged / max(ledger.sold[recent].sum(), 1))


def _needs(
    means: Floats, weekday: NDArray[np.integer], life: int, bake_days: tuple[int, ...]
) -> Floats:
    """Mean demand from each day until the next bake, at most a shelf life; (n_days, n_paths).

    The last days look as far ahead as there are days; nothing is needed on a closed day.
    """
    n_days = len(weekday)
    covered = np.array(
        [next((k for k in range(1, life) if (day + k) % 7 in bake_days), life) for day in weekday],
        dtype=np.int64,
    )
    first = np.arange(n_days)
    total = np.concatenate([np.zeros((1, means.shape[1])), np.cumsum(means, axis=0)])
    return np.where(means > 0, total[np.minimum(first + covered, n_days)] - total[first], 0.0)


def _share(baked: NDArray[np.bool_], days: NDArray[np.bool_]) -> bool:
    return bool(baked[days].mean() >= BAKE_DAY_SHARE)


def _credit(
    ledger: LineLedger, need: Floats, weekday: NDArray[np.int64], days: NDArray[np.bool_]
) -> float:
    """Least squares of the batch on the units on hand, both as multiples of the need.

    Days with much on hand are left out: there the batch is held at zero, which would make the
    credit look small.
    """
    if not days.any():
        return 0.0
    on_hand = ledger.on_hand_open[days] / need[days]
    baked = ledger.baked[days] / need[days]
    low = on_hand <= np.quantile(on_hand, LOW_STOCK_SHARE)
    on_hand, baked, of_day = on_hand[low], baked[low], weekday[days][low]
    for day in np.unique(of_day):
        same = of_day == day
        on_hand[same] -= on_hand[same].mean()
        baked[same] -= baked[same].mean()
    spread = float(on_hand @ on_hand)
    if spread == 0:
        return 0.0
    # rounded, so that a plain set batch or top-up is seen as one
    return round(float(np.clip(-(on_hand @ baked) / spread, 0.0, 1.0)), 3)


def _steady_days(
    ledger: LineLedger,
    need: Floats,
    credit: float,
    days: NDArray[np.bool_],
    age: NDArray[np.int64],
) -> int:
    baked = days & (ledger.baked > 0)
    level = (ledger.baked + credit * ledger.on_hand_open)[baked] / need[baked]
    return 7 * steady_weeks(level, age[baked])


def _multiples(ledger: LineLedger, need: Floats, credit: float, days: NDArray[np.bool_]) -> Floats:
    """Levels of past bake days as multiples of the need.

    A day without a bake shows only that the level was no higher than the credited stock; it
    counts as the usual level, or as that bound where the bound is lower.
    """
    baked = ledger.baked[days] > 0
    credited = credit * ledger.on_hand_open[days]
    rounding = _rounding(credit, ledger.line.batch_step)
    level = np.maximum(ledger.baked[days] + credited - rounding, 0.0) / need[days]
    usual = np.median(level[baked])
    return np.where(baked, level, np.minimum(usual, credited / need[days]))


def _rounding(credit: float, batch_step: int) -> float:
    """Units by which rounding up to whole steps lifted the batches that were seen, on average.

    Played again the levels are rounded up once more; without this the habit would grow.
    """
    return (batch_step - 1) / 2 if credit in (0.0, 1.0) else batch_step / 2
