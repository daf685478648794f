"""Scenarios against today's lines, each under its own best plan, on the same futures."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.money.week import Money
from shrinkwise.planning.habit import present_habit
from shrinkwise.planning.judging import Judging, chosen_rule, judging_futures
from shrinkwise.planning.outcome import Outcome, line_outcome
from shrinkwise.planning.plan import store_money
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.scenarios.scenario import Scenario
from shrinkwise.shelf.model import ShelfModel

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LineCase:
    """A line under its own best plan.

    `line` may be sold for fewer days than its code allows, where that costs less: its
    `shelf_life_days` are the days for which it is sold, `coded_life_days` those of the code.
    """

    line: Line
    coded_life_days: int
    rule: Rule
    outcome: Outcome


@dataclass(frozen=True)
class StoreCase:
    """The store's week with one set of lines; arrays have shape (n_paths,)."""

    name: str
    lines: dict[str, LineCase]
    money: Money
    waste_units: Floats
    in_stock_pct: Floats


@dataclass(frozen=True)
class Comparison:
    """Today's lines and the scenarios, all on the same futures.

    Attributes
    ----------
    store : Store
    now : StoreCase
        Today's lines under their best plan.
    scenarios : tuple of StoreCase
    changed : tuple of tuple of str
        Names of the lines that each scenario changes.
    start : datetime.date
    settings : PlanSettings
    fingerprint : str
    """

    store: Store
    now: StoreCase
    scenarios: tuple[StoreCase, ...]
    changed: tuple[tuple[str, ...], ...]
    start: date
    settings: PlanSettings
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
    changed lines only. A changed line meets the demand of the present one.

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
    settings = settings or PlanSettings(seed=seed)
    scenarios = tuple(scenarios)
    futures = judging_futures(records, demand, shelf, settings)
    store = records.profile

    def best(changed: Line) -> LineCase:
        present = store.line(changed.name)
        judging = futures[changed.name]
        days = present_habit(demand.ledgers[changed.name], demand, judging.search).bake_days
        cases = [
            _line_case(line, changed, store, judging, days, settings)
            for line in _sold_for(changed, present)
        ]
        return min(cases, key=lambda case: float(case.outcome.money.loss.mean()))

    planned = [line for line in store.lines if line.name in demand.lines]
    offered = [
        [line for line in scenario.lines.values() if line.name in demand.lines]
        for scenario in scenarios
    ]
    to_plan = [*planned, *chain.from_iterable(offered)]
    cases = iter(on_all_cores(best, to_plan, progress))
    as_now = {line.name: next(cases) for line in planned}
    now = _store_case("now", as_now, store)
    weighed = tuple(
        _store_case(scenario.name, as_now | {line.name: next(cases) for line in lines}, store)
        for scenario, lines in zip(scenarios, offered, strict=True)
    )
    return Comparison(
        store=store,
        now=now,
        scenarios=weighed,
        changed=tuple(tuple(scenario.lines) for scenario in scenarios),
        start=planning_start(records),
        settings=settings,
        fingerprint=records.fingerprint,
    )


def _sold_for(changed: Line, present: Line) -> list[Line]:
    """The changed line sold for its whole life, and for fewer days down to the present life.

    Nothing forces a store to use up a longer code, so more days can never cost more.
    """
    shortest = min(present.shelf_life_days, changed.shelf_life_days)
    return [changed.with_life(life) for life in range(changed.shelf_life_days, shortest - 1, -1)]


def _line_case(
    line: Line,
    coded: Line,
    store: Store,
    judging: Judging,
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> LineCase:
    rule = chosen_rule(line, store, judging, present_days, settings).rule
    policy = policy_of([rule], judging.judge, line)
    outcome = line_outcome(line, store.labour, judging.judge, policy)
    return LineCase(line, coded.shelf_life_days, rule, outcome)


def _store_case(name: str, lines: dict[str, LineCase], store: Store) -> StoreCase:
    outcomes = [case.outcome for case in lines.values()]
    days = {day for case in lines.values() for day in case.rule.bake_days}
    return StoreCase(
        name=name,
        lines=lines,
        money=store_money(outcomes, days, store),
        waste_units=np.sum([outcome.quantities.disposed for outcome in outcomes], axis=0),
        in_stock_pct=np.mean([outcome.in_stock_pct for outcome in outcomes], axis=0),
    )
