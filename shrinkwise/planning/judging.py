"""Two sets of futures: plans are searched on the one and judged on the other."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.futures import Futures, line_futures
from shrinkwise.planning.outcome import mean_losses
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.planning.targets import Targets, best_targets, top_up
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import ShelfModel


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


def judged_targets(
    line: Line,
    store: Store,
    judging: Judging,
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> Targets:
    """The targets with the lowest expected loss among the finalists, shape (7,).

    A target of no units is no bake. A line that costs more than it brings has no bake day.
    """
    finalists = best_targets(
        line, store.labour, judging.search, store.open_weekdays, present_days, settings
    )
    policies = top_up(finalists, judging.judge, line)
    losses = mean_losses(line, store.labour, judging.judge, policies)
    best = finalists[int(losses.argmin())]
    return np.where(best > 0, best, NO_BAKE).astype(np.int16)
