"""Scenarios against today's lines: on the same futures, so that nothing changed means nothing."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from offers import QUICK, START, switched

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import Policy
from shrinkwise.errors import ScenarioError
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import Outcome, line_outcome
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour
from shrinkwise.records.tables import Records
from shrinkwise.report.comparison_tables import (
    COLUMNS,
    UNDER,
    comparison_measures,
    comparison_table,
    result_parts_table,
)
from shrinkwise.scenarios import footing
from shrinkwise.scenarios.changes import Change, Source, changed_lines
from shrinkwise.scenarios.compare import WEEKS_A_YEAR, Comparison, compare_lines
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.scenario import Scenario, read_scenario
from shrinkwise.shelf.model import ShelfModel

Weigh = Callable[..., Comparison]

BEST, HABIT = UNDER.values()
LOAF, ROLLS = "Italian loaf", "Kaiser rolls"
OF_A_WEEK = (
    "result_week",
    "loss_week",
    "waste_week",
    "markdown_week",
    "labour_week",
    "missed_margin_week",
    "waste_units_week",
    "waste_kg_week",
    "freezer_units_week",
    "labour_hours_week",
    "bakes_week",
    "in_stock_pct",
    "days_left",
)


@pytest.fixture(scope="module")
def nothing_changed(small_records: Records, weighed: Weigh) -> Comparison:
    rolls = small_records.profile.line(ROLLS)
    same = switched(
        small_records.profile,
        ROLLS,
        price=rolls.price,
        dough_cost=rolls.dough_cost,
        shelf_life_days=rolls.shelf_life_days,
        demand_factor=1.0,
        demand_factor_sd=0.0,
    )
    nothing = Change(all=True, extra_days=0, extra_cost=0.0)
    changed = changed_lines([nothing], small_records.profile, Source("test"))
    return weighed(Scenario("no change", {}), same, Scenario("all as they are", *changed))


@pytest.fixture(scope="module")
def offers(small_records: Records, weighed: Weigh) -> Comparison:
    """The sample's own offer, the same with what it costs once, and one with another demand."""
    store, folder = small_records.profile, small_records.folder
    path = folder / "offer.toml"
    path.write_text(
        'name = "A longer life"\none_off_cost = 150.0\n[[changes]]\n'
        f'line = "{LOAF}"\nextra_days = 2\nextra_cost = 0.02\n',
        encoding="utf-8",
    )
    offer = read_scenario(path, store)
    path.unlink()
    fewer = switched(store, LOAF, extra_days=1, demand_factor=0.8, demand_factor_sd=0.1)
    return weighed(offer, fewer)


def rows_of(comparison: Comparison, index: int, under: str) -> dict[str, dict[str, float]]:
    name = comparison.scenarios[index].name
    table = comparison_table(comparison).filter(
        pl.col("scenario") == name, pl.col("under") == under
    )
    return {row["measure"]: row for row in table.iter_rows(named=True)}


def test_nothing_changed_differs_by_exactly_nothing(nothing_changed: Comparison) -> None:
    table = comparison_table(nothing_changed)
    assert table["scenario"].unique(maintain_order=True).to_list() == [
        "no change",
        f"{ROLLS} switched",
        "all as they are",
    ]
    compared = table.drop_nulls("difference_se")
    assert compared.height == 3 * 2 * (len(OF_A_WEEK) + 2)
    # the same futures and the same plan: no rounding and no luck is left to differ by
    for column in ("difference", "difference_se", "difference_low", "difference_high"):
        assert compared[column].to_list() == [0.0] * compared.height, column
    assert compared["now"].to_list() == compared["switched"].to_list()
    for scenario in nothing_changed.scenarios:
        np.testing.assert_array_equal(scenario.best.money.loss, nothing_changed.now.best.money.loss)
    assert table.filter(pl.col("measure") == "chance_pays_pct")["difference"].to_list() == [0.0] * 6


def test_the_result_is_compared_under_the_habit_that_nobody_changes(offers: Comparison) -> None:
    then, now = offers.scenarios[0].lines[LOAF], offers.now.lines[LOAF]
    # the same people bake the same way, so the units differ only by what is sold for longer
    assert then.habit.flows.sold_by_age.shape[1] == 4
    assert now.habit.flows.sold_by_age.shape[1] == 2
    assert then.habit.quantities.disposed.mean() < now.habit.quantities.disposed.mean()
    for name in offers.now.lines:
        if name != LOAF:
            assert offers.scenarios[0].lines[name] is offers.now.lines[name]
    under = rows_of(offers, 0, HABIT)["result_week"]["difference"]
    by_line = then.habit.money.result - now.habit.money.result
    assert under == pytest.approx(by_line.mean(), abs=1e-9)


def test_a_day_more_never_costs_more(small_records: Records, weighed: Weigh) -> None:
    # nothing forces a store to use up a longer code: it may be sold for the present days
    store = small_records.profile
    made = weighed(*(switched(store, line.name, extra_days=1) for line in store.lines))
    for scenario, asked in zip(made.scenarios, made.asked, strict=True):
        (name,) = asked.lines
        now, then = made.now.lines[name], scenario.lines[name]
        assert then.coded.shelf_life_days == now.line.shelf_life_days + 1
        assert [sale.line.shelf_life_days for sale in then.sales] == [
            then.coded.shelf_life_days,
            now.line.shelf_life_days,
        ]
        assert then.outcome.money.loss.mean() <= now.outcome.money.loss.mean(), name
    saved = Payoff.of(made, [line.name for line in store.lines].index(LOAF)).week
    assert saved.mean() > 5 * saved.std(ddof=1) / np.sqrt(len(saved))


def test_a_shelf_that_is_too_large_to_play_is_refused(
    small_records: Records, small_footing: Footing, monkeypatch: pytest.MonkeyPatch
) -> None:
    longer = small_records.profile.line(LOAF).with_life(4)
    small_footing.case(longer, small_records.profile)
    monkeypatch.setattr(footing, "can_be_played", lambda _, life_days: life_days < 4)
    with pytest.raises(
        ScenarioError, match="'Italian loaf': with a shelf life of 4 days its shelf"
    ):
        small_footing.case(longer, small_records.profile)


def test_where_a_longer_life_costs_more_the_line_is_sold_for_fewer_days(
    small_footing: Footing, monkeypatch: pytest.MonkeyPatch
) -> None:
    # in the sample store every day more is worth something, so a toll is put on the fifth
    def tolled(line: Line, labour: Labour, futures: Futures, policy: Policy) -> Outcome:
        outcome = line_outcome(line, labour, futures, policy)
        toll = 1000.0 if line.shelf_life_days > 4 else 0.0
        return replace(outcome, money=replace(outcome.money, loss=outcome.money.loss + toll))

    monkeypatch.setattr(footing, "line_outcome", tolled)
    offer = switched(small_footing.store, ROLLS, shelf_life_days=5)
    case = small_footing.case(offer.lines[ROLLS], small_footing.store)
    assert (case.line.shelf_life_days, case.line.reduce_on_day) == (4, 4)
    assert case.coded.shelf_life_days == 5


def test_columns_and_measures_of_the_comparison(offers: Comparison) -> None:
    table = comparison_table(offers)
    assert table.columns == list(COLUMNS)
    for under in (BEST, HABIT):
        rows = rows_of(offers, 0, under)
        assert tuple(rows)[: len(OF_A_WEEK)] == OF_A_WEEK
        for measure in (*OF_A_WEEK, "result_year", "first_year"):
            row = rows[measure]
            assert row["difference"] == pytest.approx(row["switched"] - row["now"], abs=1e-9)
            low, high = row["difference_low"], row["difference_high"]
            # a mean moved by one future in twenty or fewer may lie outside where the others agree
            assert low <= row["difference"] <= high or low == high
        parts = ("waste_week", "markdown_week", "labour_week", "missed_margin_week")
        whole = sum(rows[part]["difference"] for part in parts)
        assert rows["loss_week"]["difference"] == pytest.approx(whole, abs=1e-9)


def test_the_error_of_a_difference_is_that_of_paired_futures(offers: Comparison) -> None:
    then, now = offers.scenarios[0].best.money.result, offers.now.best.money.result
    row = rows_of(offers, 0, BEST)["result_week"]
    by_hand = (then - now).std(ddof=1) / np.sqrt(QUICK.judge_paths)
    assert row["difference_se"] == pytest.approx(by_hand)
    # shared futures are what makes it sharp: apart, the two weeks swing far more
    assert row["difference_se"] < np.sqrt((then.var() + now.var()) / QUICK.judge_paths) / 2
    assert row["difference_low"] == pytest.approx(np.quantile(then - now, 0.05))


def test_the_year_and_what_the_switch_costs_once(offers: Comparison) -> None:
    payoff, rows = Payoff.of(offers, 0), rows_of(offers, 0, BEST)
    week = rows["result_week"]["difference"]
    assert rows["result_year"]["difference"] == pytest.approx(WEEKS_A_YEAR * week)
    assert rows["first_year"]["difference"] == pytest.approx(WEEKS_A_YEAR * week - 150)
    assert rows["one_off_cost"]["difference"] == 150
    assert rows["payback_weeks"]["difference"] == pytest.approx(150 / week)
    assert rows["payback_weeks"]["difference_low"] < 150 / week
    pays = 100 * (52 * payoff.week > 150).mean()
    assert rows["chance_pays_pct"]["difference"] == pytest.approx(pays)


def test_days_left_at_purchase_by_hand(offers: Comparison) -> None:
    case = offers.scenarios[0].lines[LOAF]
    sold = case.outcome.flows.sold_by_age[0]
    by_hand = sum((4 - age) * units for age, units in enumerate(sold)) / sold.sum(axis=0)
    row = rows_of(offers, 0, BEST)["days_left"]
    assert row["switched"] == pytest.approx(by_hand.mean())
    assert 1 <= row["now"] <= 2 < row["switched"] <= 4


def test_fewer_shoppers_are_the_same_shoppers_less_some(
    small_footing: Footing, offers: Comparison
) -> None:
    fewer = small_footing.judging(LOAF, DemandFactor(0.8, 0.1)).judge
    now = small_footing.futures[LOAF].judge
    assert (fewer.streams.sum(axis=0) <= now.streams.sum(axis=0)).mean() > 0.9
    by_path = fewer.means.sum(axis=0) / now.means.sum(axis=0)
    n = len(by_path)
    assert by_path.mean() == pytest.approx(0.8, abs=4 * 0.1 / np.sqrt(n))
    assert by_path.std() == pytest.approx(0.1, rel=0.5)
    # the same draw in every scenario, whatever its factor
    other = small_footing.judging(LOAF, DemandFactor(0.9, 0.1)).judge
    ranks = np.argsort(other.means.sum(axis=0) / now.means.sum(axis=0))
    np.testing.assert_array_equal(ranks, np.argsort(by_path))
    assert Payoff.of(offers, 1).week.mean() < 0


def test_a_scaled_demand_is_the_scaled_distribution(small_demand: DemandModel) -> None:
    drawn = [
        small_demand.only(LOAF).paths(START, 7, 4000, 1, {LOAF: DemandFactor(factor)})
        for factor in (1.0, 0.5, 1.5)
    ]
    plain = small_demand.only(LOAF).paths(START, 7, 4000, 1)
    np.testing.assert_array_equal(drawn[0].units[LOAF], plain.units[LOAF])
    mean = plain.means[LOAF].mean(axis=1)
    for factor, paths in zip((0.5, 1.5), drawn[1:], strict=True):
        units = paths.units[LOAF]
        error = units.std(axis=1) / np.sqrt(units.shape[1])
        assert (np.abs(units.mean(axis=1) - factor * mean) < 5 * error).all()
        # negative binomial as before: variance = mean + alpha x mean^2 with the same alpha
        base = plain.units[LOAF]
        alpha = ((base.var(axis=1) - mean) / mean**2).mean()
        here = ((units.var(axis=1) - factor * mean) / (factor * mean) ** 2).mean()
        assert here == pytest.approx(alpha, abs=0.05)


def test_another_wage_plans_all_lines_anew(small_footing: Footing, weighed: Weigh) -> None:
    store = small_footing.store
    dearer = store.labour.model_copy(update={"wage_per_hour": 2 * store.labour.wage_per_hour})
    made = weighed(Scenario("twice the wage", {}, labour=dearer))
    hours, now = made.scenarios[0].best.money, made.now.best.money
    assert hours.labour_hours.mean() <= now.labour_hours.mean()
    # under the habit nothing else changes
    habit, was = made.scenarios[0].habit.money, made.now.habit.money
    np.testing.assert_allclose(habit.labour, 2 * was.labour)
    np.testing.assert_allclose(habit.result, was.result - was.labour)


def test_result_parts_add_up(offers: Comparison) -> None:
    for index, scenario in enumerate(offers.scenarios):
        parts = result_parts_table(scenario, offers.now)
        assert parts["part"].to_list() == ["Sales", "Dough", "Disposal cost", "Labour"]
        whole = rows_of(offers, index, BEST)["result_week"]["difference"]
        assert parts["difference"].sum() == pytest.approx(whole, abs=1e-9)


def test_measures_of_one_scenario_stand_in_rows(offers: Comparison) -> None:
    measures = comparison_measures(offers, 0, under_habit=False)
    assert measures["measure"].to_list() == [
        "Result [a week]",
        "Loss [a week]",
        "Waste [units a week]",
        "Waste [kg a week]",
        "Labour [hours a week]",
        "Bakes a week",
        "In stock [% of open days]",
        "Left at purchase [days]",
    ]


def test_the_same_seed_gives_the_same_and_another_other_figures(
    small_records: Records, small_demand: DemandModel, small_shelf: ShelfModel, offers: Comparison
) -> None:
    def again(seed: int) -> Comparison:
        settings = QUICK.model_copy(update={"seed": seed})
        return compare_lines(small_records, small_demand, small_shelf, [], settings=settings)

    same, other = again(QUICK.seed), again(QUICK.seed + 1)
    np.testing.assert_array_equal(same.now.best.money.loss, offers.now.best.money.loss)
    assert not np.array_equal(other.now.best.money.loss, offers.now.best.money.loss)
