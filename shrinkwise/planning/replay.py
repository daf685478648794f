"""Past weeks played again: with the store's batches, and with those of plans made before them."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.backtest import before, past_mondays
from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.demand.paths import MOST_UNITS, DemandPaths
from shrinkwise.demand.wanted import past_demand
from shrinkwise.engine.policy import NO_BAKE, Policy
from shrinkwise.money.week import opening_money
from shrinkwise.planning.futures import Futures, line_futures
from shrinkwise.planning.outcome import line_outcome
from shrinkwise.planning.past_weeks import PastWeeks, Week, together
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.planning.rule import policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.progress import Progress, no_progress
from shrinkwise.records.ledger import LineLedger, on_dates
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import ShelfModel, fit_shelf

Floats = NDArray[np.float64]

N_DRAWS = 200
"""Of what was wanted on sold-out days, and of who the shoppers were."""


@dataclass(frozen=True)
class _Span:
    """Some past weeks, as they came, and the plan that was made before them.

    Attributes
    ----------
    first : datetime.date
        The first Monday.
    weeks : int
    plan : BakePlan
    futures : dict of str to Futures
        What was wanted, by line, the days that fill the shelf before the first included.
    """

    first: date
    weeks: int
    plan: BakePlan
    futures: dict[str, Futures]

    def of_store(self, line: Line, ledger: LineLedger) -> Week:
        """A week of what the store baked of a line."""
        first = self.first - timedelta(days=self.plan.settings.settling_days)
        n_days = len(self.futures[line.name].days.weekday)
        baked = on_dates(ledger, ledger.baked, first, n_days)
        levels = np.where(baked > 0, baked, NO_BAKE).astype(np.int16)
        as_baked = Policy(levels[None, :, None], np.zeros(1), units_per_pan=line.units_per_pan)
        return self._week(line, as_baked)

    def of_plan(self, line: Line) -> Week:
        """A week of what the plan would have baked of a line."""
        rule = next(one.rule for one in self.plan.lines if one.line.name == line.name)
        return self._week(line, policy_of([rule], self.futures[line.name], line))

    def _week(self, line: Line, policy: Policy) -> Week:
        labour = self.plan.store.labour
        outcome = line_outcome(line, labour, self.futures[line.name], policy)
        return Week(outcome.quantities, outcome.money)

    def baking_days(self, names: Collection[str]) -> int:
        """Baking days a week under the plan."""
        rules = [one.rule for one in self.plan.lines if one.line.name in names]
        return len({day for rule in rules for day in rule.bake_days})


def replay_weeks(
    records: Records,
    weeks: int,
    seed: int = 1,
    settings: PlanSettings | None = None,
    progress: Progress = no_progress,
) -> PastWeeks:
    """Plan from the logs as they were before past weeks, and play these weeks.

    A plan stands for as many weeks as plans are judged on; then the next one is made. On days on
    which something was left, the demand is the sales; on a sold-out day it is drawn (see
    `past_demand`), with all that is known by now. The store's batches are played for the same
    shoppers, and not taken from its logs, so that nothing but the batches differs.

    Parameters
    ----------
    records : Records
    weeks : int
        How many weeks from Monday to Sunday.
    seed : int
    settings : PlanSettings, optional
        Overrules `seed`.
    progress : callable, optional
        Called once for each week that is planned.

    Raises
    ------
    EvidenceError
        When the records do not reach back far enough, or no line can be planned.
    """
    settings = settings or PlanSettings(seed=seed)
    mondays = past_mondays(records, weeks)
    demand = fit_demand(records)
    shelf = fit_shelf(records, demand)
    spans = []
    for at in range(0, weeks, settings.weeks):
        past, n_weeks = before(records, mondays[at]), min(settings.weeks, weeks - at)
        known = fit_demand(past)
        plan = plan_bakes(past, known, fit_shelf(past, known), settings=settings)
        futures = _as_they_came(records, demand, shelf, mondays[at], n_weeks, settings)
        spans.append(_Span(mondays[at], n_weeks, plan, futures))
        for _ in range(n_weeks):
            progress()
    left_out = _left_out(demand, spans)
    lines = [records.profile.line(name) for name in demand.lines if name not in left_out]
    names = [line.name for line in lines]
    stores = {
        line.name: _mean_week(
            [one.of_store(line, demand.ledgers[line.name]) for one in spans], spans
        )
        for line in lines
    }
    plans = {line.name: _mean_week([one.of_plan(line) for one in spans], spans) for line in lines}
    days_now = records.bakes.filter(
        pl.col("product").is_in(names),
        pl.col("units") > 0,
        pl.col("date").is_between(mondays[0], mondays[-1] + timedelta(days=6)),
    )["date"].n_unique()
    days_planned = sum(one.weeks * one.baking_days(names) for one in spans)
    labour = records.profile.labour
    return PastWeeks(
        of=records.profile,
        stores=stores,
        plans=plans,
        opening_store=opening_money(days_now / weeks, labour),
        opening_plan=opening_money(days_planned / weeks, labour),
        left_out=left_out,
        first=mondays[0],
        last=mondays[-1] + timedelta(days=6),
        planned_before=tuple(one.first for one in spans),
    )


def _as_they_came(
    records: Records,
    demand: DemandModel,
    shelf: ShelfModel,
    monday: date,
    weeks: int,
    settings: PlanSettings,
) -> dict[str, Futures]:
    """Who came to the shelf in past weeks, by line, as far as that can be told."""
    first = monday - timedelta(days=settings.settling_days)
    n_days = settings.settling_days + 7 * weeks
    dates = [first + timedelta(days=day) for day in range(n_days)]
    past = past_demand(records, demand, first, n_days, N_DRAWS, settings.seed)
    ledger = next(iter(demand.ledgers.values()))
    paths = DemandPaths(
        start=first,
        weekday=np.array([day.weekday() for day in dates]),
        is_open=on_dates(ledger, ledger.is_open, first, n_days).astype(np.bool_),
        units={
            name: np.minimum(of, MOST_UNITS).astype(np.int16) for name, of in past.units.items()
        },
        means={name: of.astype(np.float64) for name, of in past.units.items()},
    )
    after_count = records.profile.demand_after_count_pct / 100
    return {
        name: line_futures(paths, shelf, name, settings.settling_days, settings.seed, after_count)
        for name in past.units
        if name not in past.cannot_tell
    }


def _left_out(demand: DemandModel, spans: Sequence[_Span]) -> dict[str, str]:
    """Lines that cannot be told of, each with the reason."""
    left_out = dict(demand.too_thin)
    for name in demand.lines:
        if not demand.ledgers[name].bakes_known:
            left_out[name] = "without a bakes log, what the store baked is not known"
            continue
        for span in spans:
            if all(one.line.name != name for one in span.plan.lines):
                why = span.plan.left_out.get(name, "it was not on sale")
                left_out.setdefault(name, f"no plan before {span.first}, {why}")
    return left_out


def _mean_week(parts: Sequence[Week], spans: Sequence[_Span]) -> Week:
    """The mean week of some spans."""
    total = sum(span.weeks for span in spans)
    shares = [total / span.weeks for span in spans]
    return together(
        [
            Week(part.quantities.per(share), part.money.per(share))
            for part, share in zip(parts, shares, strict=True)
        ]
    )
