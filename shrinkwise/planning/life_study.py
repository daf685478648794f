"""What another shelf life would change: each life under its own best plan and under the habit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from zlib import crc32

import numpy as np
import polars as pl

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import can_be_played
from shrinkwise.planning.habit import habit_policy, present_habit
from shrinkwise.planning.judging import chosen_rule
from shrinkwise.planning.life_worth import STEPS, step_row, steps_table
from shrinkwise.planning.markdown import (
    MarkdownOption,
    markdown_options,
    price_points,
)
from shrinkwise.planning.outcome import Outcome, line_outcome
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.planning.trial import TRIAL_UPLIFT, Trial, markdown_trial
from shrinkwise.planning.two_sets import DrawnSet, judging_futures
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.shelf.batches import LineBatches, line_batches
from shrinkwise.shelf.freshness import Freshness
from shrinkwise.shelf.kind_pool import closer_look
from shrinkwise.shelf.kinds import Estimate, LineKinds
from shrinkwise.shelf.model import FIT_SEED, ShelfModel
from shrinkwise.shelf.real_life import RealLife, real_life
from shrinkwise.shelf.sell_through import played_curve
from shrinkwise.shelf.share import SharePosterior


@dataclass(frozen=True)
class LifeOption:
    """A line with one shelf life.

    Attributes
    ----------
    line : Line
        With that shelf life.
    rule : Rule
        Its own best rule.
    habit, best : Outcome
        A week under the present habit and under the best plan for this life, on the same
        futures for every life.
    """

    line: Line
    rule: Rule
    habit: Outcome
    best: Outcome

    def curve(self, outcome: Outcome) -> pl.DataFrame:
        """Sell-through by day on shelf under `habit` or `best`, from simulation."""
        flows = outcome.flows
        return played_curve(flows.sold_by_age[0], flows.disposed[0], self.line.reduce_on_day)

    def freshness(self, outcome: Outcome) -> Freshness:
        """Days left at purchase under `habit` or `best`, from simulation."""
        return Freshness.of(outcome.flows.sold_by_age[0])


@dataclass(frozen=True)
class LineStudy:
    """The shelf lives of one line.

    Attributes
    ----------
    line : Line
    options : tuple of LifeOption
        Of `Line.lives_to_study`, but for lives whose shelf would hold more than can be played.
    batches : LineBatches or None
        Every batch of the records at the present life, where they tell how it left.
    silence : str or None
        Why the records do not tell; None where they do.
    real : RealLife
        On which days units leave in fact.
    share : SharePosterior
        The oldest-first share.
    kinds : LineKinds
        What the logs tell of other shoppers.
    markdown : tuple of MarkdownOption
        When to reduce the line and to what price: what is sure to save first, then the present
        reduction; empty where the line is not reduced or the logs tell nothing of who comes for
        it.
    trial : Trial or None
        What would tell, where they cannot.
    """

    line: Line
    options: tuple[LifeOption, ...]
    batches: LineBatches | None
    silence: str | None
    real: RealLife
    share: SharePosterior
    kinds: LineKinds
    markdown: tuple[MarkdownOption, ...]
    trial: Trial | None

    def option(self, life: int) -> LifeOption | None:
        """The option with a shelf life of `life` days."""
        return next((o for o in self.options if o.line.shelf_life_days == life), None)


@dataclass(frozen=True)
class LifeStudy:
    """The shelf lives of all lines, judged on the weeks from `start`.

    Lines of which too little is known are `left_out`, by name with the reason.
    """

    store: Store
    lines: tuple[LineStudy, ...]
    start: date
    settings: PlanSettings
    left_out: dict[str, str]

    def by_extra_days(self) -> pl.DataFrame:
        """The store's week by days more or less than now, for lines that have every step.

        Returns
        -------
        polars.DataFrame
            extra_days, lines; and per week under the present habit or each life's best plan:
            waste_units_habit, waste_units_best, labour_hours_best, bakes_best, in_stock_pct_best
            (mean of the lines [% of open days]), loss_habit, loss_best, saving_week against the
            present life with the middle nine tenths of the futures (`_low`, `_high`) and
            extra_dough_cost, the most that the dough of a unit may cost more [money per unit],
            both with `_se`. Empty where no line has every step.
        """
        whole = [
            [option for option in found if option is not None]
            for study in self.lines
            if all(found := [study.option(study.line.shelf_life_days + step) for step in STEPS])
        ]
        present = [options[STEPS.index(0)].best for options in whole]
        rows = [
            step_row(
                step,
                [options[position].habit for options in whole],
                [options[position].best for options in whole],
                present,
            )
            for position, step in enumerate(STEPS)
            if whole
        ]
        return steps_table(rows)


def study_shelf_life(
    records: Records,
    demand: DemandModel,
    shelf: ShelfModel,
    settings: PlanSettings | None = None,
    progress: Progress = no_progress,
) -> LifeStudy:
    """Play every shelf life to be studied, each under its own best plan.

    Parameters
    ----------
    records : Records
    demand : DemandModel
    shelf : ShelfModel
    settings : PlanSettings, optional
    progress : callable, optional
        Called once for each line that is done.

    Returns
    -------
    LifeStudy
        On the same demand and the same shoppers for every life of a line.
    """
    settings = settings or PlanSettings()
    futures = judging_futures(records, demand, shelf, settings)
    store, start = records.profile, planning_start(records)
    judged = DrawnSet.of(True, start, store, demand, settings)

    def study(line: Line) -> LineStudy:
        ledger, judging = demand.ledgers[line.name], futures[line.name]
        habit = present_habit(ledger, demand, judging.search)
        seed = crc32(f"habit {settings.seed} {line.name}".encode())
        as_now = habit_policy(habit, line, judging.judge, seed)
        as_seen = judging.judge.counted_at_close()
        options = []
        for life in line.lives_to_study:
            if not can_be_played(as_now, life):
                continue
            other = line.with_life(life)
            rule = chosen_rule(other, store, judging, habit.bake_days, settings).rule
            best = policy_of([rule], judging.judge, other)
            options.append(
                LifeOption(
                    line=other,
                    rule=rule,
                    habit=line_outcome(other, store.labour, as_seen, as_now),
                    best=line_outcome(other, store.labour, judging.judge, best),
                )
            )
        silence = shelf.cannot_tell.get(line.name)
        batches = None
        if silence is None:
            batches = line_batches(records, ledger, shelf.lines[line.name], FIT_SEED)
        real = real_life(records, ledger)
        share, told = shelf.lines[line.name], shelf.kinds[line.name]
        kinds = closer_look(records, ledger, demand, share, told)
        every_kind = judged.futures(shelf.with_every_kind(line.name, kinds), line.name)
        present = next(one for one in options if one.line is line).rule
        prices = price_points(records, line)
        markdown = markdown_options(
            line, store, judging, every_kind, present, kinds.bargain, prices, habit.bake_days,
            settings,
        )  # fmt: skip
        trial = None
        if silence is None and _asks_for_trial(line, kinds.bargain, markdown):
            alpha = float(np.exp(demand.lines[line.name].params[-1]))
            mean = float(judging.judge.means[judging.judge.days.is_open].mean())
            trial = markdown_trial(line, mean, alpha, share.mean)
        return LineStudy(
            line, tuple(options), batches, silence, real, share, kinds, markdown, trial
        )

    lines = [line for line in store.lines if line.name in demand.lines]
    studies = tuple(on_all_cores(study, lines, progress))
    return LifeStudy(store, studies, start, settings, demand.too_thin)


def _asks_for_trial(line: Line, bargain: Estimate, markdown: Sequence[MarkdownOption]) -> bool:
    """Whether a trial would tell what to do: nothing is surely better than the present, since there
    may be as many bargain shoppers as it would show, or none, and days with reduced units are what
    the logs lack."""
    if line.shelf_life_days == 1 or not bargain.asks_for_reductions:
        return False
    unsure = not markdown or markdown[0].is_present(line)
    return unsure and (bargain.high is None or bargain.high > TRIAL_UPLIFT)
