"""How honest the answer on a switch is: generated stores whose truth of the switch is played.

Run with `--benchmark-enable -s` for all stores, which takes some minutes; without it two of them
are weighed in brief. Each store has two lines and one offer: a dough that keeps longer and costs
more, for every third store with a demand that it may change. The shoppers' true answer is drawn
from what the offer states. Fit, plans and intervals come from a year of logs alone.

What is compared is the difference of the store's weekly result, each side under the plan that the
fit recommends for it. The truth plays these two plans on the true demand and the true shoppers.

Stores come in two kinds. Seasons, trends and special days of the lively ones are drawn as far apart
as the demand model takes those of bakeries to be (`demand/effects.py`, chosen on open data). Steady
stores hardly have any: there the forecast doubts more than it need, intervals are wide, and since
a longer life is worth more where the demand is in doubt, the stated gain is somewhat high.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import date, timedelta

import holidays
import numpy as np
import polars as pl
import pytest
from generated import drawn_line, records_of, store_of
from known_futures import COURSES, true_futures
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.demand.model import fit_demand
from shrinkwise.demand.special_days import HALF_DAYS, special_days
from shrinkwise.money.week import opening_money
from shrinkwise.planning.outcome import line_outcome
from shrinkwise.planning.rule import policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.store import Store
from shrinkwise.sample.truth import DAYS_PER_YEAR, StoreTruth, day_range
from shrinkwise.scenarios.changes import Change, Source, changed_lines
from shrinkwise.scenarios.compare import Comparison, compare_lines
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.scenario import Scenario
from shrinkwise.scenarios.store_case import StoreCase
from shrinkwise.shelf.model import fit_shelf

ALL_STORES, FEW_STORES = 30, 2
BRIEF = PlanSettings(
    screen_paths=16, search_paths=32, judge_paths=64, weeks=6, finalists=2, leaders=1
)
MOST_EXTRA_COST = 0.25
"""[money per unit] on a dough of 1.20."""

FACTOR = DemandFactor(0.97, 0.04)
WAVE_SD, TREND_SD = (0.14, 0.21), (0.25, 0.18)
"""Of the two long waves of a year and of the trend: what lines of a store share, and their own."""

SHORT_WAVE_SD, SPECIAL_DAY_SD, HALF_DAY_SD = 0.16, 0.22, 0.58
"""Of the short waves and the special days of a store."""

INTERVAL = (0.05, 0.95)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Weighed:
    """A store's offer as it was weighed, and as it is [money per week].

    Attributes
    ----------
    extra_days, extra_cost, true_factor : int, float, float
        The offer, and what the demand is really multiplied by.
    stated, low, high : float
        Mean and 90% interval of the difference.
    truth : float
        Mean of the true courses.
    inside_pct : float
        True courses within the interval [% of courses].
    chance : float
        Stated, that the switch pays.
    pays_pct : float
        True courses on which it pays [% of courses].
    """

    extra_days: int
    extra_cost: float
    true_factor: float
    stated: float
    low: float
    high: float
    truth: float
    inside_pct: float
    chance: float
    pays_pct: float

    @property
    def covered(self) -> bool:
        return self.low <= self.truth <= self.high


@dataclass(frozen=True)
class LivelyStore(StoreTruth):
    """A store with short waves in the year and days like no other.

    Attributes
    ----------
    own_days : dict of date to float
        What they add to the log of the demand of all lines on each day.
    """

    own_days: dict[date, float] = field(default_factory=dict)

    def calendar_effect(self, day: date) -> float:
        return super().calendar_effect(day) + self.own_days.get(day, 0.0)


def drawn_store(seed: int, lively: bool) -> StoreTruth:
    """Two lines that keep for 3 and 4 days."""
    first, other = drawn_line(seed), drawn_line(seed + 1000, life=4)
    lines = [first, replace(other, settings=other.settings.model_copy(update={"name": "Oat loaf"}))]
    if not lively:
        return store_of(*lines)
    rng = np.random.default_rng([seed, 11])
    season, trend = rng.normal(0, WAVE_SD[0], 4), float(rng.normal(0, TREND_SD[0]))
    lines = [
        replace(
            line,
            season=tuple(season + rng.normal(0, WAVE_SD[1], 4)),
            trend_per_year=trend + float(rng.normal(0, TREND_SD[1])),
        )
        for line in lines
    ]
    steady = store_of(*lines)
    years = range(steady.start.year, steady.end.year + 2)
    public = holidays.country_holidays(steady.country, years=years)
    short = rng.normal(0, SHORT_WAVE_SD, (2, 2))
    own_days = {}
    for day in day_range(steady.start, 7 * (52 + 14)):
        angles = np.array([3, 4]) * 2 * np.pi * day.timetuple().tm_yday / DAYS_PER_YEAR
        own_days[day] = float(short[0] @ np.cos(angles) + short[1] @ np.sin(angles))
    for name, days in special_days(public, years).items():
        effect = float(rng.normal(0, HALF_DAY_SD if name in HALF_DAYS else SPECIAL_DAY_SD))
        for day in days & own_days.keys():
            own_days[day] += effect
    return LivelyStore(**vars(steady), own_days=own_days)


def drawn_offer(seed: int, store: Store) -> tuple[Scenario, float]:
    """The offer of a store, and what the demand is really multiplied by if it is taken."""
    rng = np.random.default_rng([seed, 7])
    asked = {
        "line": store.lines[0].name,
        "extra_days": int(rng.integers(1, 3)),
        "extra_cost": round(float(rng.uniform(0, MOST_EXTRA_COST)), 3),
    }
    factor = 1.0
    if seed % 3 == 0:
        asked |= {"demand_factor": FACTOR.mean, "demand_factor_sd": FACTOR.sd}
        factor = float(FACTOR.draws(1, rng, seed=0)[0])
    changed = changed_lines([Change.model_validate(asked)], store, Source("drawn"))
    return Scenario("offer", *changed), factor


def true_result(case: StoreCase, made: Comparison, store: StoreTruth, factor: float) -> Floats:
    """The store's weekly result on every true course, shape (COURSES,) [money per week].

    Both sides of a comparison meet the same shoppers where the factor is 1.
    """
    settings = made.footing.settings
    start = made.start - timedelta(days=settings.settling_days)
    n_days = settings.settling_days + 7 * settings.weeks
    total = np.zeros(COURSES)
    for number, line_case in enumerate(case.lines.values()):
        truth = store.line(line_case.line.name)
        changed = line_case is not made.now.lines[truth.name]
        if changed:
            truth = replace(truth, mean_units=factor * truth.mean_units)
        futures = true_futures(truth, start, n_days, settings.settling_days, number, store)
        line = line_case.line
        policy = policy_of([line_case.rule], futures, line)
        total += line_outcome(line, made.store.labour, futures, policy).money.result
    days = {day for one in case.lines.values() for day in one.rule.bake_days}
    return total - float(opening_money(len(days), made.store.labour).labour)


def weighed(seed: int, settings: PlanSettings, lively: bool) -> Weighed:
    store = drawn_store(seed, lively)
    records = records_of(store, seed)
    offer, factor = drawn_offer(seed, records.profile)
    demand = fit_demand(records)
    made = compare_lines(records, demand, fit_shelf(records, demand), [offer], settings=settings)
    payoff = Payoff.of(made, 0)
    low, high = np.quantile(payoff.week, INTERVAL)
    truth = true_result(made.scenarios[0], made, store, factor)
    truth -= true_result(made.now, made, store, 1.0)
    (name,) = offer.lines
    now, then = records.profile.line(name), offer.lines[name]
    return Weighed(
        extra_days=then.shelf_life_days - now.shelf_life_days,
        extra_cost=round(then.dough_cost - now.dough_cost, 3),
        true_factor=factor,
        stated=float(payoff.week.mean()),
        low=float(low),
        high=float(high),
        truth=float(truth.mean()),
        inside_pct=100 * float(((low <= truth) & (truth <= high)).mean()),
        chance=payoff.chance_pct / 100,
        pays_pct=100 * float((truth > 0).mean()),
    )


@dataclass(frozen=True)
class Honesty:
    """How honest the answers on many stores are.

    Attributes
    ----------
    covered : int
        Stores whose true mean lies in the 90% interval.
    inside_pct : float
        True courses in the interval of their store [% of courses].
    brier, base : float
        Brier score of the stated chance that it pays, over all true courses, and of the share of
        all of them that pay, which anyone could state.
    stated, truth : float
        Means of the difference over the stores [money per week].
    """

    stores: int
    covered: int
    inside_pct: float
    brier: float
    base: float
    stated: float
    truth: float

    @classmethod
    def of(cls, found: Sequence[Weighed]) -> "Honesty":
        chance = np.array([one.chance for one in found])
        pays = np.array([one.pays_pct for one in found]) / 100
        # of a course that pays with this chance, whatever is stated for it
        brier = pays * (1 - chance) ** 2 + (1 - pays) * chance**2
        return cls(
            stores=len(found),
            covered=sum(one.covered for one in found),
            inside_pct=float(np.mean([one.inside_pct for one in found])),
            brier=float(brier.mean()),
            base=float(pays.mean() * (1 - pays.mean())),
            stated=float(np.mean([one.stated for one in found])),
            truth=float(np.mean([one.truth for one in found])),
        )


def by_chance(found: Sequence[Weighed]) -> pl.DataFrame:
    """What was stated and what came of it, by stated chance."""
    table = pl.DataFrame([asdict(one) for one in found])
    chance = pl.col("chance")
    bands = pl.coalesce(
        pl.when(chance <= upto).then(pl.lit(f"up to {upto:.0%}"))
        for upto in (0.1, 0.4, 0.6, 0.9, 1)
    )
    return (
        table.group_by(bands.alias("stated chance"))
        .agg(
            pl.len().alias("stores"),
            (100 * pl.col("chance").mean()).alias("stated pct"),
            pl.col("pays_pct").mean().alias("true pct"),
        )
        .sort("stated pct")
    )


def test_the_answer_on_a_switch_is_honest(
    benchmark: BenchmarkFixture, pytestconfig: pytest.Config
) -> None:
    in_full = pytestconfig.getoption("benchmark_enable")
    n_stores, settings = (ALL_STORES, PlanSettings()) if in_full else (FEW_STORES, BRIEF)

    def all_stores() -> dict[str, list[Weighed]]:
        kinds = {"steady": False, "lively": True}
        return {
            kind: [weighed(seed, settings, lively) for seed in range(n_stores)]
            for kind, lively in kinds.items()
        }

    found = benchmark.pedantic(all_stores, rounds=1)
    honesty = {kind: Honesty.of(of_kind) for kind, of_kind in found.items()}
    with pl.Config(
        tbl_rows=-1, tbl_cols=-1, tbl_width_chars=180, tbl_hide_dataframe_shape=True,
        tbl_hide_column_data_types=True, float_precision=3,
    ):  # fmt: skip
        print("\nswitches weighed against their truth")
        print(pl.DataFrame([{"kind": kind} | asdict(one) for kind, one in honesty.items()]))
        print(by_chance([one for of_kind in found.values() for one in of_kind]))
        if in_full:
            for kind, of_kind in found.items():
                print(kind, pl.DataFrame([asdict(one) for one in of_kind]))
    benchmark.extra_info["stores"] = {
        kind: [asdict(one) for one in of_kind] for kind, of_kind in found.items()
    }
    if in_full:
        for one in honesty.values():
            # nine of ten: 24 to 30 of 30 in 99 of 100 studies (binomial)
            assert one.covered >= 0.8 * one.stores
            assert one.inside_pct == pytest.approx(90, abs=5)
            assert one.brier < one.base
    else:
        assert all(np.isfinite(list(asdict(one).values())).all() for one in honesty.values())
