"""The store with one set of lines: a week under the plans, and under the present habit."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shrinkwise.money.week import Money, Quantities, money_of, opening_money
from shrinkwise.planning.outcome import Outcome
from shrinkwise.planning.plan import store_money
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.line_case import LineCase

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class StoreWeek:
    """The store's week with one set of lines under one plan.

    Attributes
    ----------
    money, waste_units, freezer_units, bakes, in_stock_pct : of shape (n_paths,)
        A mean week of each path. Waste is what was disposed of from the shelf, freezer units are
        those of the dough thrown from the freezer.
    waste_kg : array of float, shape (n_paths,), or None
        Weight of the waste [kg per week]; None where the weight of a line is not known.
    by_week : array of float, shape (n_weeks, n_paths)
        The result of every week by itself [money per week].
    """

    money: Money
    waste_units: Floats
    freezer_units: Floats
    bakes: Floats
    in_stock_pct: Floats
    waste_kg: Floats | None
    by_week: Floats


@dataclass(frozen=True)
class StoreCase:
    """The store with one set of lines.

    Attributes
    ----------
    name : str
    lines : dict of str to LineCase
    best : StoreWeek
        Each line under its own best plan.
    habit : StoreWeek
        What happens when nobody changes the present habit.
    """

    name: str
    lines: dict[str, LineCase]
    best: StoreWeek
    habit: StoreWeek


def store_case(name: str, lines: dict[str, LineCase], footing: Footing, store: Store) -> StoreCase:
    """Lines added up to the store's week, under their plans and under the habit.

    Parameters
    ----------
    name : str
    lines : dict of str to LineCase
    footing : Footing
    store : Store
        With the labour that there would be.
    """
    best_days = {day for case in lines.values() for day in case.rule.bake_days}
    habit_days = {day for name in lines for day in footing.habits[name].bake_days}
    return StoreCase(
        name=name,
        lines=lines,
        best=_week(
            [_Played(case.line, case.outcome, case.weeks) for case in lines.values()],
            best_days,
            store,
        ),
        habit=_week(
            [_Played(case.coded, case.habit, case.habit_weeks) for case in lines.values()],
            habit_days,
            store,
        ),
    )


class _Played(NamedTuple):
    """A line under one plan: a mean week of each path, and every week by itself."""

    line: Line
    outcome: Outcome
    weeks: Quantities


def _week(played: list[_Played], baking_days: set[int], store: Store) -> StoreWeek:
    outcomes = [one.outcome for one in played]
    weights = [one.line.unit_weight_kg for one in played]
    opening = opening_money(len(baking_days), store.labour).labour
    results = [money_of(one.weeks, one.line, store.labour).result for one in played]
    thrown = [one.quantities.disposed for one in outcomes]
    kilograms = [
        weight * units for weight, units in zip(weights, thrown, strict=True) if weight is not None
    ]
    return StoreWeek(
        money=store_money(outcomes, baking_days, store),
        waste_units=np.sum(thrown, axis=0),
        freezer_units=np.sum([one.quantities.freezer_disposed for one in outcomes], axis=0),
        bakes=np.sum([one.quantities.bakes for one in outcomes], axis=0),
        in_stock_pct=np.mean([one.in_stock_pct for one in outcomes], axis=0),
        waste_kg=None if None in weights else np.sum(kilograms, axis=0),
        by_week=np.sum(results, axis=0) - opening,
    )
