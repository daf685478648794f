"""The bake plan: every line's best bake days and targets against what the store does now."""

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.money.week import Money, opening_money
from shrinkwise.planning.curve import loss_curve
from shrinkwise.planning.habit import Habit, habit_policy, present_habit
from shrinkwise.planning.judging import Choice, chosen_rule
from shrinkwise.planning.limit_use import StoreChoice
from shrinkwise.planning.line_plan import WORTH_SAYING, LinePlan, Option
from shrinkwise.planning.offers import Offers, line_offers
from shrinkwise.planning.optimum import gap_to_optimum_pct
from shrinkwise.planning.outcome import Outcome, line_outcome, standard_error
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.planning.store_choice import choose_for_store
from shrinkwise.planning.two_sets import judging_futures
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.evidence import line_evidence
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import ShelfModel
from shrinkwise.version import VERSION

Floats = NDArray[np.float64]

OPTIONS = 5
"""Sets of bake days of a line that are shown."""


@dataclass(frozen=True)
class BakePlan:
    """The plan of the store.

    Attributes
    ----------
    store : Store
    lines : tuple of LinePlan
    shared : StoreChoice
        What the lines use of what they share, and what more of it would save.
    left_out : dict of str to str
        Lines without a plan, each with the reason.
    share_unknown : dict of str to str
        Lines whose oldest-first share the records cannot tell, each with the reason.
    by_same_weekday : tuple of str
        Lines whose demand to come is what the last days of each weekday were.
    from_below : tuple of str
        Lines that sold out on every day, whose demand is only known to be at least so much.
    start : datetime.date
        First day of the weeks on which the plan is judged.
    settings : PlanSettings
    fingerprint : str
        Of the records that it was made from.
    version : str
        Of the program that made it.
    """

    store: Store
    lines: tuple[LinePlan, ...]
    shared: StoreChoice
    left_out: dict[str, str]
    share_unknown: dict[str, str]
    by_same_weekday: tuple[str, ...]
    from_below: tuple[str, ...]
    start: date
    settings: PlanSettings
    fingerprint: str
    version: str

    @cached_property
    def now(self) -> Money:
        """A week of the whole store under the present habit, shape (n_paths,)."""
        days = {day for line in self.lines for day in line.habit.bake_days}
        return store_money([line.now for line in self.lines], days, self.store)

    @cached_property
    def plan(self) -> Money:
        """A week of the whole store under the plan, shape (n_paths,)."""
        days = {day for line in self.lines for day in line.rule.bake_days}
        return store_money([line.plan for line in self.lines], days, self.store)

    @property
    def saving(self) -> Floats:
        """The store's loss now less its loss under the plan, shape (n_paths,)."""
        return self.now.loss - self.plan.loss

    @property
    def saving_se(self) -> float:
        """Standard error of the mean saving [money per week]."""
        return standard_error(self.saving)

    @property
    def keeps_habit(self) -> bool:
        """The plan as a whole is no reason to change: it saves no more than the noise, or next to
        nothing."""
        return float(self.saving.mean()) < max(2 * self.saving_se, WORTH_SAYING)


def store_money(outcomes: list[Outcome], baking_days: set[int], store: Store) -> Money:
    """Lines added up future by future, with the opening of the week's baking days.

    A day in `baking_days` counts every week: with several lines, one of them bakes.
    """
    total: Money = sum((outcome.money for outcome in outcomes), start=0)  # type: ignore[assignment]
    return total + opening_money(np.full_like(total.loss, len(baking_days)), store.labour)


def plan_bakes(
    records: Records,
    demand: DemandModel,
    shelf: ShelfModel,
    seed: int = 1,
    settings: PlanSettings | None = None,
    progress: Progress = no_progress,
) -> BakePlan:
    """Find each line's best bake days and targets, and judge them against the habit.

    All plans of a line meet the same shoppers (common random numbers), and the finalists are
    judged on futures that the search has not seen. The lines are then chosen together, since they
    share the opening of a baking day, the oven and the shift.

    Parameters
    ----------
    records : Records
    demand : DemandModel
    shelf : ShelfModel
    seed : int
        The same seed gives the same plan.
    settings : PlanSettings, optional
        Overrules `seed`.
    progress : callable, optional
        Called once for each line that is done.

    Returns
    -------
    BakePlan
    """
    settings = settings or PlanSettings(seed=seed)
    futures = judging_futures(records, demand, shelf, settings)
    store = records.profile

    def plan_line(line: Line) -> tuple[Offers, LinePlan]:
        judging = futures[line.name]
        habit = present_habit(demand.ledgers[line.name], demand, judging.search)
        choice = chosen_rule(line, store, judging, habit.bake_days, settings)
        return line_offers(line, store, judging.judge, choice), line_plan(line, habit, choice)

    def line_plan(line: Line, habit: Habit, choice: Choice, for_store: bool = False) -> LinePlan:
        judging = futures[line.name]
        seed = crc32(f"habit {settings.seed} {line.name}".encode())
        seen = habit_policy(habit, line, judging.judge, seed)
        # the habit was read from the stock at close, after all shoppers
        as_seen = judging.judge.counted_at_close()
        few = judging.judge.first(settings.search_paths)

        def option(rule: Rule) -> Option:
            policy = policy_of([rule], judging.judge, line)
            return Option(rule, line_outcome(line, store.labour, judging.judge, policy))

        simpler = None if for_store else choice.next_simpler
        gap = choice.gap_to_optimum_pct
        if for_store:
            gap = gap_to_optimum_pct(line, store, judging.search, choice.rule)
        return LinePlan(
            line=line,
            rule=choice.rule,
            habit=habit,
            now=line_outcome(line, store.labour, as_seen, seen),
            plan=option(choice.rule).outcome,
            options=tuple(option(rule) for rule in choice.shown(OPTIONS)),
            simpler=None if simpler is None else option(simpler),
            gap_to_optimum_pct=gap,
            curve=loss_curve(line, store.labour, few, choice.rule),
            evidence=line_evidence(records, demand.ledgers[line.name]),
            stock_by_age=shelf.likeliest_stock(line.name, settings.seed),
            for_store=for_store,
        )

    lines = [line for line in store.lines if line.name in demand.lines]
    alone = on_all_cores(plan_line, lines, progress)
    shared = choose_for_store(store, [offers for offers, _ in alone])
    plans = tuple(
        line_plan(plan.line, plan.habit, offers.taken(pick), for_store=True) if pick else plan
        for (offers, plan), pick in zip(alone, shared.picks, strict=True)
    )
    return BakePlan(
        store=store,
        lines=plans,
        shared=shared,
        left_out=demand.too_thin,
        share_unknown=shelf.cannot_tell,
        by_same_weekday=tuple(name for name, one in demand.lines.items() if one.recent),
        from_below=tuple(name for name, one in demand.lines.items() if one.from_below),
        start=planning_start(records),
        settings=settings,
        fingerprint=records.fingerprint,
        version=VERSION,
    )
