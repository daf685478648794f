"""What the store does now, as a policy that can be played on any future."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.simulate import NO_BAKE, Policy
from shrinkwise.planning.futures import Futures
from shrinkwise.records.ledger import LineLedger

Floats = NDArray[np.float64]

LEVEL_DAYS = 56
CREDIT_DAYS = 182
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
    multiples : dict of int to array of float
        By weekday, the levels (batch plus credited stock) of the last eight weeks as multiples
        of the demand that was expected until the next bake.
    batch_units : float
        Mean batch over the same weeks [units].
    bakes_week : float
        Bakes a week over the same weeks.
    """

    bake_days: tuple[int, ...]
    credit: float
    multiples: dict[int, Floats]
    batch_units: float
    bakes_week: float


def present_habit(ledger: LineLedger, demand: DemandModel) -> Habit:
    """Read the habit from the bakes log.

    Batches follow batch = level - credit x units on hand. The credit is fitted by least squares
    over half a year. The levels are those of the last eight weeks, kept as multiples of the
    demand expected until the next bake, since a store follows its seasons.

    Parameters
    ----------
    ledger : LineLedger
    demand : DemandModel
    """
    weekday = np.array([day.weekday() for day in ledger.dates])
    age = np.arange(len(weekday))[::-1]
    recent = (age < LEVEL_DAYS) & ledger.is_open
    if not (recent & (ledger.baked > 0)).any() and (ledger.baked > 0).any():
        # a line that was not baked of late keeps the habit of its last bakes
        recent = (age < age[ledger.baked > 0].min() + LEVEL_DAYS) & ledger.is_open
    baked = recent & (ledger.baked > 0)
    of_weekday = [recent & (weekday == day) for day in range(7)]
    often = [day for day in range(7) if of_weekday[day].any() and _share(baked, of_weekday[day])]
    bake_days = tuple(often or (int(day) for day in np.unique(weekday[baked])))
    credit = _credit(ledger, weekday, age < CREDIT_DAYS)
    rounding = _rounding(credit, ledger.line.batch_step) * (ledger.baked > 0)
    level = np.maximum(ledger.baked + credit * ledger.on_hand_open - rounding, 0.0)
    need = _needs(demand, ledger, ledger.start, len(weekday), bake_days)
    used = {day: of_weekday[day] & (need > 0) for day in bake_days}
    return Habit(
        bake_days=bake_days,
        credit=credit,
        multiples={day: level[days] / need[days] for day, days in used.items() if days.any()},
        batch_units=float(ledger.baked[baked].mean()) if baked.any() else 0.0,
        bakes_week=float(7 * baked.sum() / max(int((age < LEVEL_DAYS).sum()), 1)),
    )


def habit_policy(
    habit: Habit, ledger: LineLedger, demand: DemandModel, start: date, futures: Futures, seed: int
) -> Policy:
    """The habit on given futures: each bake takes the multiple of a past bake of its weekday.

    Parameters
    ----------
    habit : Habit
    ledger : LineLedger
    demand : DemandModel
    start : datetime.date
        First day of the futures.
    futures : Futures
    seed : int

    Returns
    -------
    Policy
        One plan, with a level for each path.
    """
    weekday, n_paths = futures.days.weekday, futures.n_paths
    need = _needs(demand, ledger, start, len(weekday), habit.bake_days)
    rng = np.random.default_rng(seed)
    levels = np.full((1, len(weekday), n_paths), NO_BAKE, np.int16)
    for day, of_week in enumerate(weekday):
        seen = habit.multiples.get(int(of_week))
        if seen is not None:
            drawn = need[day] * seen[rng.integers(len(seen), size=n_paths)]
            levels[0, day] = np.floor(drawn + rng.random(n_paths))
    line = ledger.line
    return Policy(levels, np.array([habit.credit]), line.batch_step, line.units_per_pan)


def _needs(
    demand: DemandModel, ledger: LineLedger, start: date, n_days: int, bake_days: tuple[int, ...]
) -> Floats:
    """Demand expected from each day until the next bake, at most a shelf life, shape (n_days,)."""
    life = ledger.line.shelf_life_days
    dates = [start + timedelta(days=day) for day in range(n_days + life)]
    expected = demand.expected(ledger.line.name, dates)
    total = np.append(0.0, np.cumsum(expected))
    covered = np.array(
        [
            next((k for k in range(1, life) if (day.weekday() + k) % 7 in bake_days), life)
            for day in dates[:n_days]
        ],
        dtype=np.int64,
    )
    first = np.arange(n_days)
    return np.where(expected[:n_days] > 0, total[first + covered] - total[first], 0.0)


def _share(baked: NDArray[np.bool_], days: NDArray[np.bool_]) -> bool:
    return bool(baked[days].mean() >= BAKE_DAY_SHARE)


def _credit(ledger: LineLedger, weekday: NDArray[np.int64], window: NDArray[np.bool_]) -> float:
    used = window & ledger.is_open & (ledger.baked > 0)
    on_hand = ledger.on_hand_open[used].astype(np.float64)
    baked = ledger.baked[used].astype(np.float64)
    for day in range(7):
        of_day = weekday[used] == day
        if of_day.any():
            on_hand[of_day] -= on_hand[of_day].mean()
            baked[of_day] -= baked[of_day].mean()
    spread = float(on_hand @ on_hand)
    return float(np.clip(-(on_hand @ baked) / spread, 0.0, 1.0)) if spread > 0 else 0.0


def _rounding(credit: float, batch_step: int) -> float:
    """Units by which rounding up to whole steps lifted the batches that were seen, on average.

    Played again the levels are rounded up once more; without this the habit would grow.
    """
    return (batch_step - 1) / 2 if credit in (0.0, 1.0) else batch_step / 2
