"""Two sets of futures: plans are searched on the one and judged on the other."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.futures import Futures, line_futures
from shrinkwise.planning.outcome import standard_error, weighed
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.search import best_rules
from shrinkwise.planning.settings import PlanSettings, planning_start
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
    """The rule that was chosen and those it was chosen from, the lowest loss first."""

    rule: Rule
    options: tuple[Rule, ...]

    def shown(self, n: int) -> tuple[Rule, ...]:
        """The first `n` options; the chosen rule and the best that does not wait are among them."""
        plain = next(rule for rule in self.options if rule.least_need == 1)
        wanted = [rule for rule in self.options if rule is self.rule or rule is plain]
        others = [rule for rule in self.options if rule not in wanted]
        kept = wanted + others[: n - len(wanted)]
        return tuple(rule for rule in self.options if rule in kept)


def chosen_rule(
    line: Line,
    store: Store,
    judging: Judging,
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> Choice:
    """The rule of least loss among the finalists, on futures that the search has not seen.

    Of those that cost the same within the noise of the futures, the simplest is chosen: one that
    does not wait, then the one with the fewest bake days, then that with the store's present
    days. A target of no units is no bake. A line that costs more than it brings has no bake day.
    """
    found = best_rules(
        line, store.labour, judging.search, store.bake_weekdays(line), present_days, settings
    )
    finalists = [_without_empty_bakes(rule) for rule in found]
    result = weighed(line, store.labour, judging.judge, policy_of(finalists, judging.judge, line))
    order = [int(index) for index in np.argsort(result.demerits, kind="stable")]
    best = order[0]
    tied = [
        index
        for index in order
        if result.short_of_floor_pct[index] <= result.short_of_floor_pct[best]
        and _within_noise(result.losses[index] - result.losses[best])
    ]
    chosen = min(tied, key=lambda index: _bother(finalists[index], present_days))
    return Choice(finalists[chosen], tuple(finalists[index] for index in order))


def _without_empty_bakes(rule: Rule) -> Rule:
    targets = np.where(rule.targets > 0, rule.targets, NO_BAKE).astype(np.int16)
    return Rule(targets, rule.least_need)


def _within_noise(difference: NDArray[np.float64]) -> bool:
    return bool(difference.mean() <= TIE_ERRORS * standard_error(difference))


def _bother(rule: Rule, present_days: tuple[int, ...]) -> tuple[bool, int, bool]:
    """Whether it waits, its bake days, and whether they are others than now."""
    return rule.least_need > 1, len(rule.bake_days), rule.bake_days != present_days
