"""Two sets of futures: plans are searched on the one and judged on the other."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.futures import Futures, line_futures
from shrinkwise.planning.outcome import standard_error, weighed
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.planning.targets import Targets, best_targets, top_up
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import ShelfModel

TIE_ERRORS = 1.0
"""Standard errors of the paired difference within which two finalists cost the same."""


@dataclass(frozen=True)
class Judging:
    """A line's two sets of futures: those searched and those on which finalists are judged."""

    search: Futures
    judge: Futures


def judging_futures(
    records: Records, demand: DemandModel, shelf: ShelfModel, settings: PlanSettings
) -> dict[str, Judging]:
    """The futures of every line with a demand, by name."""
    start = planning_start(records) - timedelta(days=settings.settling_days)
    n_days = settings.settling_days + 7 * settings.weeks
    seeds = (2 * settings.seed, 2 * settings.seed + 1)
    sizes = (settings.search_paths, settings.judge_paths)
    drawn = [
        demand.paths(start, n_days, size, seed) for size, seed in zip(sizes, seeds, strict=True)
    ]
    return {
        name: Judging(
            *(
                line_futures(paths, shelf, name, settings.settling_days, seed)
                for paths, seed in zip(drawn, seeds, strict=True)
            ),
        )
        for name in demand.lines
    }


@dataclass(frozen=True)
class Choice:
    """The targets that were chosen and those they were chosen from, shape (7,) and (n, 7).

    NO_BAKE stands on weekdays without a bake; the options begin with the lowest loss.
    """

    targets: Targets
    options: Targets


def chosen_targets(
    line: Line,
    store: Store,
    judging: Judging,
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> Choice:
    """The targets of least loss among the finalists, on futures that the search has not seen.

    Of those that cost the same within the noise of the futures, the one with the fewest bake days
    is chosen, and of these the one that keeps the store's present days. A target of no units is
    no bake. A line that costs more than it brings has no bake day.
    """
    found = best_targets(
        line, store.labour, judging.search, store.bake_weekdays(line), present_days, settings
    )
    finalists = np.where(found > 0, found, NO_BAKE).astype(np.int16)
    result = weighed(line, store.labour, judging.judge, top_up(finalists, judging.judge, line))
    order = np.argsort(result.demerits, kind="stable")
    best = order[0]
    tied = [
        index
        for index in order
        if result.short_of_floor_pct[index] <= result.short_of_floor_pct[best]
        and _within_noise(result.losses[index] - result.losses[best])
    ]
    chosen = min(tied, key=lambda index: _bother(finalists[index], present_days))
    return Choice(finalists[chosen], finalists[order])


def _within_noise(difference: NDArray[np.float64]) -> bool:
    return bool(difference.mean() <= TIE_ERRORS * standard_error(difference))


def _bother(targets: Targets, present_days: tuple[int, ...]) -> tuple[int, bool]:
    """Bake days, and whether they are others than now."""
    days = tuple(int(day) for day in np.flatnonzero(targets != NO_BAKE))
    return len(days), days != present_days
