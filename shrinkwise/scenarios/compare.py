"""Scenarios against today's lines, each under its own best plan, on the same futures."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import chain
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.demand.model import DemandModel
from shrinkwise.money.week import Money, Quantities, money_of, opening_money
from shrinkwise.planning.outcome import Outcome
from shrinkwise.planning.plan import store_money
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.line_case import LineCase
from shrinkwise.scenarios.scenario import Scenario
from shrinkwise.shelf.model import ShelfModel

Floats = NDArray[np.float64]

WEEKS_A_YEAR = 52
"""All like the weeks that are judged."""


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


@dataclass(frozen=True)
class Comparison:
    """Today's lines and the scenarios, all on the same futures.

    Attributes
    ----------
    store : Store
    now : StoreCase
        Today's lines.
    scenarios : tuple of StoreCase
    asked : tuple of Scenario
        What each of them changes.
    footing : Footing
        What all were weighed on.
    start : datetime.date
    fingerprint : str
    """

    store: Store
    now: StoreCase
    scenarios: tuple[StoreCase, ...]
    asked: tuple[Scenario, ...]
    footing: Footing
    start: date
    fingerprint: str


def compare_lines(
    records: Records,
    demand: DemandModel,
    shelf: ShelfModel,
    scenarios: Iterable[Scenario],
    seed: int = 1,
    settings: PlanSettings | None = None,
    progress: Progress = no_progress,
) -> Comparison:
    """Weigh scenarios before a line is switched.

    Lines that a scenario leaves alone keep their plan, so that a difference comes from the
    changed lines only; where it changes the labour, all lines are planned anew. A changed line
    meets the demand of the present one, times its demand factor if it has one.

    Parameters
    ----------
    records : Records
    demand : DemandModel
    shelf : ShelfModel
    scenarios : iterable of Scenario
    seed : int
    settings : PlanSettings, optional
        Overrules `seed`.
    progress : callable, optional
        Called once for each line and each changed line that is done.

    Returns
    -------
    Comparison
    """
    footing = Footing.of(records, demand, shelf, settings or PlanSettings(seed=seed))
    return weigh(footing, scenarios, planning_start(records), records.fingerprint, progress)


def weigh(
    footing: Footing,
    scenarios: Iterable[Scenario],
    start: date,
    fingerprint: str,
    progress: Progress = no_progress,
) -> Comparison:
    """Weigh scenarios on a footing; see `compare_lines`."""
    scenarios, store = tuple(scenarios), footing.store
    planned = footing.lines

    def case(item: tuple[Footing, Line, Store, DemandFactor | None]) -> LineCase:
        under, line, paid, factor = item
        return under.case(line, paid, factor)

    offered = [lines_to_plan(planned, scenario) for scenario in scenarios]
    footings = [footing.with_newcomers(scenario.newcomers) for scenario in scenarios]
    to_plan: list[tuple[Footing, Line, Store, DemandFactor | None]] = [
        *((footing, line, store, None) for line in planned),
        *chain.from_iterable(
            [(under, line, asked.store(store), asked.factor(line.name)) for line in lines]
            for asked, under, lines in zip(scenarios, footings, offered, strict=True)
        ),
    ]
    cases = iter(on_all_cores(case, to_plan, progress))
    as_now = {line.name: next(cases) for line in planned}
    weighed = []
    for asked, under, lines in zip(scenarios, footings, offered, strict=True):
        then = as_now | {line.name: next(cases) for line in lines}
        kept = {name: one for name, one in then.items() if name not in asked.ending}
        weighed.append(_store_case(asked.name, kept, under, asked.store(store)))
    return Comparison(
        store=store,
        now=_store_case("now", as_now, footing, store),
        scenarios=tuple(weighed),
        asked=scenarios,
        footing=footing,
        start=start,
        fingerprint=fingerprint,
    )


def lines_to_plan(planned: Iterable[Line], scenario: Scenario) -> list[Line]:
    """The lines that a scenario needs a plan for, as they would be.

    Parameters
    ----------
    planned : iterable of Line
        Today's lines that have a demand.
    scenario : Scenario
    """
    added = [one.line for one in scenario.newcomers.values()]
    if scenario.labour is not None:
        kept = [line for line in planned if line.name not in scenario.ending]
        return [*(scenario.lines.get(line.name, line) for line in kept), *added]
    known = {line.name for line in planned}
    return [*(line for line in scenario.lines.values() if line.name in known), *added]


def _store_case(name: str, lines: dict[str, LineCase], footing: Footing, store: Store) -> StoreCase:
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
