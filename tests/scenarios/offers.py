"""Offers, settings and made-up stores of the tests of scenarios."""

from datetime import date

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import Days
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.habit import Habit
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store
from shrinkwise.scenarios.changes import Change, Source, changed_lines
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.scenario import Scenario

# few futures keep this fast; what is tested holds for any number of them
QUICK = PlanSettings(
    screen_paths=16, search_paths=32, judge_paths=64, weeks=6, finalists=2, leaders=1
)
START = date(2026, 10, 5)
EVERY_DAY = (0, 1, 2, 3, 4, 5, 6)
FREE = Labour(
    wage_per_hour=0.0,
    minutes_per_bake=0,
    minutes_per_pan=0,
    minutes_per_unit=0,
    minutes_per_reduced_unit=0,
    minutes_per_disposed_unit=0,
    minutes_per_baking_day=0,
)


def switched(store: Store, line: str, one_off_cost: float = 0.0, **fields: float) -> Scenario:
    """A scenario that changes one line."""
    change = Change.model_validate({"line": line} | fields)
    changed = changed_lines([change], store, Source("test"))
    return Scenario(f"{line} switched", *changed, one_off_cost=one_off_cost)


def loaf(dough_cost: float, life: int, disposal_cost: float = 0.0) -> Line:
    """A line at the price of 4 that is never reduced."""
    return Line(
        name="Loaf",
        category="breads",
        price=4.0,
        dough_cost=dough_cost,
        disposal_cost=disposal_cost,
        shelf_life_days=life,
        filled=False,
    )


def footing_of(line: Line, demand: NDArray[np.integer], **labour: float) -> Footing:
    """A store of one line, without labour but what is given, whose futures want `demand`.

    `demand` has shape (n_days, n_paths), Monday first. Searched and judged on the same futures,
    so that the best plan is that of these very paths.
    """
    streams = np.zeros((2, *demand.shape), np.int16)
    streams[0] = demand
    n_days = len(demand)
    days = Days(np.arange(n_days) % 7, np.ones(n_days, bool))
    futures = Futures(streams, demand.astype(np.float64), days)
    habit = Habit(EVERY_DAY, 0.0, {day: np.ones((1, 1)) for day in EVERY_DAY})
    paid = FREE.model_copy(update=labour)
    store = Store(name="Any", currency="USD", country="US", labour=paid, lines=(line,))
    judging = {line.name: Judging(futures, futures)}
    return Footing(store, judging, {line.name: habit}, QUICK)
