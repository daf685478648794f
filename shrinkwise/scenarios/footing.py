"""The same footing for today's lines and for those offered: futures, habits and store."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Self
from zlib import crc32

from shrinkwise.demand.factor import UNCHANGED, DemandFactor
from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import can_be_played
from shrinkwise.errors import ScenarioError
from shrinkwise.money.week import Quantities
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.habit import Habit, habit_policy, present_habit
from shrinkwise.planning.judging import chosen_rule
from shrinkwise.planning.outcome import Outcome, line_outcome, weeks_of
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.planning.two_sets import DrawnSet, Judging, judging_futures
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.progress import no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.scenarios.fussy import Fussiness
from shrinkwise.scenarios.line_case import LineCase, Sale
from shrinkwise.scenarios.new_line import Newcomer
from shrinkwise.shelf.model import ShelfModel


@dataclass(frozen=True)
class Source:
    """What futures are drawn from when the demand is not as it is now."""

    start: date
    records: Records
    demand: DemandModel
    shelf: ShelfModel


@dataclass(frozen=True)
class Footing:
    """What lines are weighed on.

    Attributes
    ----------
    store : Store
    futures : dict of str to Judging
        Of every line with a demand, by name.
    habits : dict of str to Habit
    settings : PlanSettings
    source : Source or None
        None: no line may have another demand.
    newcomers : dict of str to Newcomer
        Lines without a history, by name.
    """

    store: Store
    futures: dict[str, Judging]
    habits: dict[str, Habit]
    settings: PlanSettings
    source: Source | None = None
    newcomers: dict[str, Newcomer] = field(default_factory=dict)

    @classmethod
    def of(
        cls, records: Records, demand: DemandModel, shelf: ShelfModel, settings: PlanSettings
    ) -> Self:
        """The footing that a store's records give."""
        start, store = planning_start(records), records.profile
        futures = judging_futures(records, demand, shelf, settings)
        habits = {
            name: present_habit(demand.ledgers[name], demand, judging.search)
            for name, judging in futures.items()
        }
        return cls(store, futures, habits, settings, Source(start, records, demand, shelf))

    @property
    def lines(self) -> list[Line]:
        """Today's lines that have a demand."""
        return [line for line in self.store.lines if line.name in self.futures]

    def with_newcomers(self, newcomers: Mapping[str, Newcomer]) -> Self:
        """This footing with lines without a history, which are baked as their lender is.

        Raises
        ------
        ScenarioError
            When no demand is known of those that a line borrows from.
        """
        if not newcomers:
            return self
        known = {}
        for name, one in newcomers.items():
            lenders = tuple(lender for lender in one.lenders if lender in self.futures)
            if not lenders:
                raise ScenarioError(
                    f"New line {name!r} borrows the demand of {', '.join(one.lenders)}, but the "
                    "records are too short to tell it. Name another line or category."
                )
            known[name] = replace(one, lenders=lenders)
        added = replace(self, newcomers=known)
        habits = {name: self.habits[added.before(name).name] for name in known}
        return replace(added, habits=self.habits | habits)

    def before(self, name: str) -> Line:
        """The line as it is; of a new line the one that it is baked like, which is the one of
        its lenders that is wanted most."""
        if name not in self.newcomers:
            return self.store.line(name)
        lenders = self.newcomers[name].lenders
        return self.store.line(max(lenders, key=lambda one: self.futures[one].judge.means.sum()))

    def judging(self, name: str, factor: DemandFactor | None) -> Judging:
        """A line's futures, its demand multiplied by a factor; None for none.

        Raises
        ------
        ValueError
            When there is nothing to draw another demand from.
        """
        if factor is None or (factor == UNCHANGED and name in self.futures):
            return self.futures[name]
        sets = on_all_cores(
            lambda judge: self._drawn(name, factor, judge), (False, True), no_progress
        )
        return Judging(*sets)

    def judge(self, name: str, factor: DemandFactor | None) -> Futures:
        """Those of `judging` on which plans are judged."""
        if factor is None or (factor == UNCHANGED and name in self.futures):
            return self.futures[name].judge
        return self._drawn(name, factor, True)

    def _drawn(self, name: str, factor: DemandFactor, judge: bool) -> Futures:
        if self.source is None:
            raise ValueError("a demand factor needs a source to draw futures from")
        start, demand, shelf = self.source.start, self.source.demand, self.source.shelf
        if name in self.newcomers:
            lenders = self.newcomers[name].lenders
            demand = demand.borrowing(name, lenders)
            shelf = replace(shelf, lenders={name: lenders})
        else:
            demand = demand.only(name)
        factors = {name: factor}
        made = DrawnSet.of(judge, start, self.store, demand, self.settings, factors)
        return made.futures(shelf, name)

    def weeks_of_share(self, name: str) -> float:
        """Weeks of records that tell of a line's oldest-first share, or of that of the lines from
        which a new one borrows; 0 where they cannot tell it."""
        if self.source is None:
            return 0.0
        new = self.newcomers.get(name)
        names = (name,) if new is None else new.lenders
        if any(one in self.source.shelf.cannot_tell for one in names):
            return 0.0
        ledgers = self.source.demand.ledgers
        return min(len(ledgers[one].sold) for one in names) / 7

    def sale(self, line: Line, store: Store, judging: Judging) -> Sale:
        """The best plan of a line that is sold for its whole shelf life."""
        days = self.habits[line.name].bake_days
        choice = chosen_rule(line, store, judging, days, self.settings)
        return Sale(
            line=line,
            rule=choice.rule,
            plain=next(rule for rule in choice.options if rule.batch_table is None),
            outcome=played_rule(choice.rule, line, store, judging.judge),
            choice=choice,
        )

    def case(
        self,
        line: Line,
        store: Store,
        factor: DemandFactor | None = None,
        fussy: Fussiness | None = None,
    ) -> LineCase:
        """A line under its own best plan and under the present habit.

        Parameters
        ----------
        line : Line
            As it would be.
        store : Store
            With the labour that there would be.
        factor : DemandFactor, optional
            Of the demand of the present line, or of those that a new line borrows from.
        fussy : Fussiness, optional
            Of its shoppers; none but those of whom the logs tell when left out.
        """
        present = self.before(line.name)
        habit, judging = self.habits[line.name], self.judging(line.name, factor)
        who, draw = fussy or Fussiness(), self.settings.seed

        sales = tuple(
            self.sale(sold, store, who.among(judging, sold, draw))
            for sold in _sold_for(line, present)
        )
        best = min(sales, key=lambda one: float(one.outcome.money.loss.mean()))
        seed = crc32(f"habit {self.settings.seed} {line.name}".encode())
        # the habit was read from the stock at close, and does not know of another shelf life
        as_now = line.with_life(present.shelf_life_days)
        policy = habit_policy(habit, as_now, judging.judge, seed)
        if not can_be_played(policy, line.shelf_life_days):
            raise ScenarioError(
                f"Line '{line.name}': with a shelf life of {line.shelf_life_days} days its "
                "shelf would hold more units than can be played. Name a shorter one, or count the "
                "line in packs."
            )
        judge = who.judge(judging.judge, best.line, draw)
        as_seen = who.judge(judging.judge, line, draw).counted_at_close()
        return LineCase(
            line=best.line,
            coded=line,
            rule=best.rule,
            outcome=best.outcome,
            habit=line_outcome(line, store.labour, as_seen, policy),
            sales=sales,
            weeks=weeks_under(best.rule, best.line, judge),
            habit_weeks=weeks_of(
                line,
                as_seen,
                lambda upto: replace(policy, levels=policy.levels[:, : len(upto.days.weekday)]),
            ),
            futures=judge,
        )


def played_rule(rule: Rule, line: Line, store: Store, futures: Futures) -> Outcome:
    """A week of a line under a rule, on futures."""
    return line_outcome(line, store.labour, futures, policy_of([rule], futures, line))


def weeks_under(rule: Rule, line: Line, futures: Futures) -> Quantities:
    """Every week of a line under a rule, arrays of shape (n_weeks, n_paths)."""
    return weeks_of(line, futures, lambda upto: policy_of([rule], upto, line))


def _sold_for(changed: Line, present: Line) -> list[Line]:
    """The changed line sold for its whole life, and for fewer days down to the present life.

    Nothing forces a store to use up a longer code, so more days can never cost more.
    """
    shortest = min(present.shelf_life_days, changed.shelf_life_days)
    return [changed.with_life(life) for life in range(changed.shelf_life_days, shortest - 1, -1)]
