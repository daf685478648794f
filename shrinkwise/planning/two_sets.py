"""Two sets of futures: plans are searched on the one and judged on the other."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Self

from shrinkwise.demand.factor import NO_FACTORS, DemandFactor
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.paths import DemandPaths
from shrinkwise.planning.futures import Futures, line_futures
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.profile.store import Store
from shrinkwise.progress import no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import ShelfModel


@dataclass(frozen=True)
class Judging:
    """A line's two sets of futures: those searched and those on which finalists are judged."""

    search: Futures
    judge: Futures


@dataclass(frozen=True)
class DrawnSet:
    """The demand of one of the two sets, before shoppers are told apart.

    Attributes
    ----------
    paths : DemandPaths
    settling_days : int
        Days that are not counted.
    after_count : float
        Share of a day's demand that comes after the shelf is counted, 0 to 1.
    seed : int
    """

    paths: DemandPaths
    settling_days: int
    after_count: float
    seed: int

    @classmethod
    def of(
        cls,
        judge: bool,
        start: date,
        store: Store,
        demand: DemandModel,
        settings: PlanSettings,
        factors: Mapping[str, DemandFactor] = NO_FACTORS,
    ) -> Self:
        """Draw a set.

        Parameters
        ----------
        judge : bool
            That on which plans are judged, or else the one on which they are searched.
        start : datetime.date
            First day that is counted.
        store : Store
        demand : DemandModel
        settings : PlanSettings
        factors : mapping of str to DemandFactor
            What the demand of a line is multiplied by, where it is not as it is now.

        Returns
        -------
        DrawnSet
            With `polish_paths` paths, or `judge_paths`; the two sets have no seed in common,
            whatever those of the settings.
        """
        start -= timedelta(days=settings.settling_days)
        n_days = settings.settling_days + 7 * settings.weeks
        seed = 2 * settings.seed + judge
        n_paths = settings.judge_paths if judge else settings.polish_paths
        paths = demand.paths(start, n_days, n_paths, seed, factors)
        return cls(paths, settings.settling_days, store.demand_after_count_pct / 100, seed)

    def futures(self, shelf: ShelfModel, name: str) -> Futures:
        """A line's demand with its shoppers."""
        return line_futures(
            self.paths, shelf, name, self.settling_days, self.seed, self.after_count
        )


def judging_futures(
    records: Records, demand: DemandModel, shelf: ShelfModel, settings: PlanSettings
) -> dict[str, Judging]:
    """The futures of every line with a demand.

    Parameters
    ----------
    records : Records
    demand : DemandModel
    shelf : ShelfModel
    settings : PlanSettings

    Returns
    -------
    dict of str to Judging
        By name, from the first day of the store's week after the records.
    """
    start, store = planning_start(records), records.profile

    def drawn(judge: bool) -> dict[str, Futures]:
        made = DrawnSet.of(judge, start, store, demand, settings)
        return {name: made.futures(shelf, name) for name in demand.lines}

    sets = on_all_cores(drawn, (False, True), no_progress)
    return {name: Judging(*(of_set[name] for of_set in sets)) for name in demand.lines}
