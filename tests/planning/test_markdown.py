"""When to reduce a line and to what price, for shoppers who are known."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from shrinkwise.engine.policy import NO_BAKE, Days
from shrinkwise.engine.streams import BARGAIN, split_demand, with_more_kinds
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.judging import chosen_rule
from shrinkwise.planning.markdown import (
    MarkdownOption,
    at_depth,
    markdown_options,
    price_points,
    what_to_do_first,
)
from shrinkwise.planning.outcome import line_outcome
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.trial import TRIAL_POWER, TRIAL_UPLIFT, markdown_trial
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store
from shrinkwise.records.tables import Records
from shrinkwise.shelf.kinds import NOT_CLEAR, NOT_SEEN, Estimate

LINE = Line(
    name="Rye",
    category="rolls",
    price=4.0,
    dough_cost=1.2,
    shelf_life_days=3,
    filled=False,
    reduce_on_day=3,
    reduced_price=3.0,
)
STORE = Store(name="Here", currency="USD", country="US", lines=(LINE,))
SETTINGS = PlanSettings(search_paths=30, judge_paths=60, weeks=4, finalists=2)
N_DAYS = 42
DAYS = (0, 2, 4)
TOLD = Estimate(0.5, 0.4, 0.6, None)
FEW = Estimate(0.02, 0.0, 0.05, NOT_SEEN)


def futures_of(uplift: float, n_paths: int, seed: int) -> Futures:
    """20 a day, a third of them oldest-first, and so many who come for a bargain."""
    rng = np.random.default_rng(seed)
    demand = rng.poisson(20.0, (N_DAYS, n_paths))
    streams = split_demand(demand, np.full(n_paths, 0.33), seed)
    none, means = np.zeros(n_paths), np.full((N_DAYS, n_paths), 20.0)
    streams = with_more_kinds(streams, none, none, uplift * means, seed)
    days = Days(np.arange(N_DAYS) % 7, np.arange(N_DAYS) % 7 != 6, 14)
    return Futures(streams, means, days, fussy_until_day=3)


def uneven(n_paths: int, after: float = 0.0) -> Futures:
    """Demand of 10 on most days and 60 on Saturdays, closed on Sundays; 0.3 for a bargain each."""
    weekday = np.arange(N_DAYS) % 7
    of_weekday = np.array([10.0, 10, 10, 20, 40, 60, 10])[weekday]
    means = np.repeat(of_weekday[:, None], n_paths, axis=1)
    days = Days(weekday, weekday != 6, 14)
    is_open = days.is_open[:, None]
    demand = np.random.default_rng(4).poisson(means) * is_open
    none = np.zeros(n_paths)
    streams = split_demand(demand, np.full(n_paths, 0.33), 4)
    streams = with_more_kinds(streams, none, none, 0.3 * means * is_open, 4)
    futures = Futures(streams, means, days, fussy_until_day=3)
    return futures.counted_before(after, 5) if after else futures


@pytest.mark.parametrize(("price", "times"), [(1.0, 3.0), (3.5, 0.5), (3.0, 1.0)])
@pytest.mark.parametrize("after", [0.0, 0.3])
def test_bargain_shoppers_grow_with_the_depth_on_each_day(
    price: float, times: float, after: float
) -> None:
    """LINE costs 4 and is reduced to 3: to 1 is three times as deep."""
    before, n = uneven(400, after), 400
    found = at_depth(before, LINE, price, 1)
    for weekday, usual in enumerate([10, 10, 10, 20, 40, 60, 0]):
        mean = 0.3 * usual * times
        of_day = before.days.weekday == weekday
        error = np.sqrt(mean * (1 + times) / (of_day.sum() * n)) + 0.01 * mean
        assert abs(found.streams[BARGAIN, of_day].mean() - mean) <= 4 * error
    others = np.arange(len(before.streams)) != BARGAIN
    np.testing.assert_array_equal(found.streams[others], before.streams[others])
    if after:
        assert found.after_count is not None
        assert (found.after_count <= found.streams).all()
        late = found.after_count[BARGAIN].sum() / found.streams[BARGAIN].sum()
        assert late == pytest.approx(after, abs=0.01)


def options_of(
    uplift: float, bargain: Estimate, prices: list[float], may_be: float | None = None
) -> tuple[MarkdownOption, ...]:
    """Plans on futures with so many bargain shoppers, played with as many as there may be."""
    judging = Judging(futures_of(uplift, 30, 1), futures_of(uplift, 60, 2))
    every_kind = judging.judge if may_be is None else futures_of(may_be, 60, 2)
    now = chosen_rule(LINE, STORE, judging, DAYS, SETTINGS).rule
    return markdown_options(LINE, STORE, judging, every_kind, now, bargain, prices, DAYS, SETTINGS)


def test_result_and_loss_add_up_to_what_the_demand_is_worth() -> None:
    """Whatever the plan: who comes for a bargain alone is beside the demand."""
    futures = futures_of(0.5, 40, 3)
    served = futures.wanted[futures.days.is_open & (np.arange(N_DAYS) >= 14)].sum(axis=0)
    for target in (20, 60):
        targets = np.array([target, NO_BAKE, target, NO_BAKE, target, target, NO_BAKE], np.int16)
        plan = policy_of([Rule(targets)], futures, LINE)
        outcome = line_outcome(LINE, Labour(), futures, plan)
        of_stock = LINE.dough_cost * outcome.quantities.stock_change
        total = outcome.money.result + outcome.money.loss + of_stock
        assert total == pytest.approx(LINE.unit_margin * served / futures.weeks)
    assert (outcome.quantities.bargains > 0).any()


def test_a_reduction_that_brings_shoppers_is_kept_or_bettered() -> None:
    found = options_of(1.0, TOLD, [3.0, 2.0])
    pairs = {(one.reduce_on_day, one.reduced_price) for one in found}
    assert pairs == {(None, None), (2, 2.0), (3, 2.0), (2, 3.0), (3, 3.0)}
    present = next(one for one in found if (one.reduce_on_day, one.reduced_price) == (3, 3.0))
    never = next(one for one in found if one.reduce_on_day is None)
    assert present.saving_week == 0
    assert never.saving_week < 0
    assert never.reduced_units_week == 0
    assert found[0].saving_week >= 0


def test_without_bargain_shoppers_a_reduction_gives_money_away() -> None:
    found = options_of(0.0, FEW, [3.0, 2.0])
    assert [one.reduce_on_day for one in found] == [None, 3]
    assert found[0].is_sure
    assert found[0].saving_week > 2 * found[0].saving_week_se


def test_where_bargain_shoppers_may_be_there_the_reduction_is_kept() -> None:
    """The logs do not tell them from chance, but rather speak for them."""
    found = options_of(1.0, replace(TOLD, reason=NOT_CLEAR), [3.0, 2.0])
    assert [one.reduce_on_day for one in found] == [3, None]
    assert not found[1].is_sure


@pytest.mark.parametrize(("losing", "is_sure"), [(5, True), (15, False)])
def test_a_change_is_sure_where_it_saves_on_nine_of_ten_futures(losing: int, is_sure: bool) -> None:
    savings = np.linspace(1.0, 30.0, 100)
    savings[:losing] = -0.5
    assert MarkdownOption(None, None, savings, 0.0).is_sure == is_sure


def test_what_might_save_more_does_not_hide_what_surely_saves() -> None:
    noise = np.linspace(-20.0, 32.0, 100)
    present = MarkdownOption(3, 3.0, np.zeros(100), 5.0)
    unsure = MarkdownOption(2, 2.0, noise, 9.0)
    sure = MarkdownOption(2, 3.0, np.linspace(1.0, 5.0, 100), 7.0)
    surer = MarkdownOption(None, None, np.linspace(2.0, 6.0, 100), 0.0)
    costly = MarkdownOption(3, 2.0, -np.abs(noise), 9.0)
    found = what_to_do_first([costly, unsure, present, sure, surer], LINE)
    assert found == (surer, sure, present, unsure, costly)
    assert what_to_do_first([costly, unsure, present], LINE)[0] is present


def test_what_saves_no_more_than_the_noise_is_not_sure() -> None:
    rare = np.full(400, 0.001)
    rare[:2] = 30.0
    option = MarkdownOption(None, None, rare, 0.0)
    assert option.saving_week > 0
    assert not option.is_sure


def test_more_may_come_for_a_bargain_than_plans_know_of() -> None:
    """Plans that know of none are played with those that may be there."""
    few, many = (options_of(0.0, FEW, [], may_be)[0] for may_be in (0.0, 1.0))
    assert (few.reduce_on_day, few.reduced_price) == (many.reduce_on_day, many.reduced_price)
    assert many.saving_week < few.saving_week


def test_next_to_nobody_comes_for_next_to_no_reduction() -> None:
    """However many there are at the present price: a ten-thousandth of them."""
    many, none = (
        {
            (one.reduce_on_day, one.reduced_price): one
            for one in options_of(0.0, TOLD, [3.0, 3.9999], may_be)
        }
        for may_be in (2.0, 0.0)
    )
    for day in (2, 3):
        at_most = none[day, 3.9999].reduced_units_week
        assert many[day, 3.9999].reduced_units_week == pytest.approx(at_most, abs=0.1)
        assert many[day, 3.0].reduced_units_week > none[day, 3.0].reduced_units_week + 0.2


def test_where_the_logs_cannot_tell_nothing_is_advised() -> None:
    assert options_of(0.0, Estimate.silent("there is no markdown log"), [2.0]) == ()


@pytest.mark.parametrize("mean", [0.5, 2.0, 5.0, 10.0, 20.0, 200.0])
def test_a_longer_trial_takes_more_days_of_the_week_first(mean: float) -> None:
    """Two to four days a week: no more than are needed for a quarter, and then more weeks."""
    trial = markdown_trial(LINE, mean, 0.05, 0.3)
    n_days = trial.weeks * trial.days_week
    assert 2 <= trial.days_week <= 4
    assert trial.weeks <= 13 or trial.days_week == 4
    assert trial.days_week == 2 or n_days > 13 * (trial.days_week - 1)


def test_a_trial_as_long_as_is_said_tells() -> None:
    """Sales of days with reduced units against the mean that is known from others, judged by the
    rule of the fit: days count for half, and but for a doubt of 2% more than 5% come for it."""
    mean, alpha = 20.0, 0.05
    trial = markdown_trial(LINE, mean, alpha, 0.3)
    n_days = trial.weeks * trial.days_week
    rng = np.random.default_rng(1)
    rate = rng.gamma(1 / alpha, alpha * mean, (4000, n_days))
    sold = rng.poisson(rate) + rng.poisson(TRIAL_UPLIFT * mean, (4000, n_days))
    told = sold.mean(axis=1) / mean - 1
    # 2.054 is the normal quantile at 98%
    lowest = told - 2.054 * np.sqrt(2) * told.std()
    assert TRIAL_POWER - 0.03 <= (lowest > 0.05).mean() <= TRIAL_POWER + 0.08
    # on most days there is something left to take
    takers = rng.poisson(mean * (0.3 + 0.1 + TRIAL_UPLIFT), 4000)
    assert (takers <= trial.units).mean() > 0.7


def test_the_price_points_are_those_that_the_store_used(sample_records: Records) -> None:
    line = next(one for one in sample_records.profile.lines if one.reduced_price is not None)
    rows = sample_records.markdowns.filter(pl.col("product") == line.name)
    other = rows.with_columns(unit_price=pl.lit(round(line.price / 2, 2)))
    records = replace(sample_records, markdowns=pl.concat([rows, other]))
    points = price_points(records, line)
    assert points[0] == line.reduced_price
    # a price of more units stands before one of fewer, and a slip of the pen is none
    half, third = round(line.price / 2, 2), round(line.price / 3, 2)
    fewer = rows.head(20).with_columns(unit_price=pl.lit(third))
    slip = rows.head(1).with_columns(unit_price=pl.lit(0.03), units=pl.lit(10_000, pl.Int64))
    records = replace(records, markdowns=pl.concat([records.markdowns, fewer, slip]))
    assert price_points(records, line) == [line.reduced_price, half, third]
    assert all(price < line.price for price in points)
    never = line.model_copy(update={"reduce_on_day": None, "reduced_price": None})
    assert price_points(records, never) == []
