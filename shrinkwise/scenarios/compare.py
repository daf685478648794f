"""Scenarios against today's lines, each under its own best plan, on the same futures."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.demand.model import DemandModel
from shrinkwise.planning.offers import Offers
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.fussy import Fussiness
from shrinkwise.scenarios.fussy_days import with_fussy_days
from shrinkwise.scenarios.line_case import LineCase
from shrinkwise.scenarios.new_line import Newcomer
from shrinkwise.scenarios.price import with_price_factors
from shrinkwise.scenarios.scenario import Scenario
from shrinkwise.scenarios.store_case import StoreCase, store_case
from shrinkwise.scenarios.together import chosen_together
from shrinkwise.shelf.model import ShelfModel

Floats = NDArray[np.float64]

NOW = "Today's lines"

WEEKS_A_YEAR = 52
"""All like the weeks that are judged."""


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
        What each of them changes, and the factors of the demand that new prices bring.
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
    changed lines only; where it changes the labour or the capacity, all lines are planned anew. A
    changed line meets the demand of the present one, times its demand factor; where none is
    stated and the price changes, times what the line's price elasticity makes of it. Some of its
    shoppers become fussy where the scenario says so. Where the
    store or a scenario has a capacity, the rules of all lines are chosen together within it,
    today's lines' too.

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

    Raises
    ------
    PlanError
        When lines cannot keep within the capacity.
    ScenarioError
        When fussy shoppers are to take units until another day than the logs tell of.
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
    scenarios = tuple(with_fussy_days(scenario, footing) for scenario in scenarios)
    scenarios, store = with_price_factors(scenarios, footing), footing.store
    planned = footing.lines

    offered = [lines_to_plan(planned, scenario, store) for scenario in scenarios]
    footings = [footing.with_newcomers(scenario.newcomers) for scenario in scenarios]
    tasks = [_Task(footing, line, store) for line in planned]
    for asked, under, lines in zip(scenarios, footings, offered, strict=True):
        held = asked.store(store)
        tasks += [
            _Task(under, line, held, asked.factor(line.name), asked.fussiness(line.name))
            for line in lines
        ]
    cases = iter(_planned(tasks, progress))
    as_now = {line.name: next(cases) for line in planned}
    capacities = [store.capacity, *(scenario.capacity for scenario in scenarios)]
    limited = any(one is not None for one in capacities)
    together: dict[int, Offers] = {}

    def whole(name: str, lines: dict[str, LineCase], under: Footing, held: Store) -> StoreCase:
        if limited:
            lines = chosen_together(name, lines, held, together)
        return store_case(name, lines, under, held)

    weighed = []
    for asked, under, lines in zip(scenarios, footings, offered, strict=True):
        then = as_now | {line.name: next(cases) for line in lines}
        kept = {name: one for name, one in then.items() if name not in asked.ending}
        weighed.append(whole(asked.name, kept, under, asked.store(store)))
    return Comparison(
        store=store,
        now=whole(NOW, as_now, footing, store),
        scenarios=tuple(weighed),
        asked=scenarios,
        footing=footing,
        start=start,
        fingerprint=fingerprint,
    )


class _Task(NamedTuple):
    """A line to be planned: on which footing, in which store, for which demand and shoppers."""

    under: Footing
    line: Line
    store: Store
    factor: DemandFactor | None = None
    fussy: Fussiness | None = None

    def same(self, other: "_Task") -> bool:
        """Whether both lead to the same plan."""
        mine, its = (
            (one.line, one.store.labour, one.store.capacity, one.factor, one.fussy, one.newcomer)
            for one in (self, other)
        )
        return mine == its

    @property
    def newcomer(self) -> Newcomer | None:
        return self.under.newcomers.get(self.line.name)

    def case(self) -> LineCase:
        return self.under.case(self.line, self.store, self.factor, self.fussy)


def _planned(tasks: list[_Task], progress: Progress) -> list[LineCase]:
    """The case of every task; what is asked more than once is planned once."""
    distinct: list[_Task] = []
    places = []
    for task in tasks:
        known = (place for place, one in enumerate(distinct) if one.same(task))
        places.append(next(known, len(distinct)))
        if places[-1] == len(distinct):
            distinct.append(task)
        else:
            progress()
    cases = on_all_cores(_Task.case, distinct, progress)
    return [cases[place] for place in places]


def lines_to_plan(planned: Iterable[Line], scenario: Scenario, store: Store) -> list[Line]:
    """The lines that a scenario needs a plan for, as they would be.

    Parameters
    ----------
    planned : iterable of Line
        Today's lines that have a demand.
    scenario : Scenario
    store : Store
        As it is.
    """
    added = [one.line for one in scenario.newcomers.values()]
    if scenario.touches_all:
        held = scenario.store(store)
        kept = [held.line(line.name) for line in planned if line.name not in scenario.ending]
        return [*(scenario.lines.get(line.name, line) for line in kept), *added]
    known = {line.name for line in planned}
    return [*(line for line in scenario.lines.values() if line.name in known), *added]
