"""Scenarios against today's lines: on the same futures, so that nothing changed means nothing."""

from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import Policy
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import Outcome, line_outcome
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour
from shrinkwise.records.tables import Records
from shrinkwise.report.comparison_tables import (
    comparison_measures,
    comparison_table,
    result_parts_table,
)
from shrinkwise.scenarios import compare
from shrinkwise.scenarios.compare import Comparison, compare_lines
from shrinkwise.scenarios.scenario import Change, Scenario, changed_lines, read_scenario
from shrinkwise.shelf.model import ShelfModel

# few futures keep this fast; what is tested holds for any number of them
QUICK = PlanSettings(search_paths=30, judge_paths=60, weeks=6, finalists=3)

MEASURES = ("loss_week", "waste_units_week", "labour_hours_week", "in_stock_pct", "result_week")
PARTS = ("now", "scenario", "difference", "difference_se")


def switched(records: Records, line: str, **settings: float) -> Scenario:
    change = Change.model_validate({"line": line} | settings)
    return Scenario(f"{line} switched", changed_lines([change], records.profile, "test"))


@pytest.fixture(scope="module")
def nothing_changed(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> Comparison:
    bagels = sample_records.profile.line("Bagels")
    same = switched(
        sample_records,
        "Bagels",
        price=bagels.price,
        dough_cost=bagels.dough_cost,
        shelf_life_days=bagels.shelf_life_days,
    )
    scenarios = [Scenario("no change", {}), same]
    return compare_lines(sample_records, sample_demand, sample_shelf, scenarios, settings=QUICK)


@pytest.fixture(scope="module")
def one_day_more(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> Comparison:
    """One scenario per line: the same line with a day more."""
    scenarios = [
        switched(sample_records, line.name, shelf_life_days=line.shelf_life_days + 1)
        for line in sample_records.profile.lines
    ]
    return compare_lines(sample_records, sample_demand, sample_shelf, scenarios, settings=QUICK)


@pytest.fixture(scope="module")
def dearer_dough(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> Comparison:
    folder = sample_records.folder / "scenarios"
    scenarios = [
        read_scenario(folder / name, sample_records.profile)
        for name in ("longer_life_dough.toml", "cheaper_dough.toml")
    ]
    return compare_lines(sample_records, sample_demand, sample_shelf, scenarios, settings=QUICK)


def test_nothing_changed_differs_by_exactly_nothing(nothing_changed: Comparison) -> None:
    table = comparison_table(nothing_changed)
    assert table["scenario"].to_list() == ["no change", "Bagels switched"]
    for measure in MEASURES:
        # the same futures and the same plan: no rounding and no luck is left to differ by
        assert table[f"{measure}_difference"].to_list() == [0.0, 0.0]
        assert table[f"{measure}_difference_se"].to_list() == [0.0, 0.0]
        assert table[f"{measure}_now"].to_list() == table[f"{measure}_scenario"].to_list()
    for scenario in nothing_changed.scenarios:
        np.testing.assert_array_equal(scenario.money.loss, nothing_changed.now.money.loss)


def test_a_day_more_never_costs_more(one_day_more: Comparison, sample_records: Records) -> None:
    # nothing forces a store to use up a longer code: it may be sold for the present days
    assert [changed[0] for changed in one_day_more.changed] == [
        line.name for line in sample_records.profile.lines
    ]
    for scenario, (name,) in zip(one_day_more.scenarios, one_day_more.changed, strict=True):
        now, then = one_day_more.now.lines[name], scenario.lines[name]
        assert then.coded_life_days == now.line.shelf_life_days + 1
        assert then.line.shelf_life_days in (now.line.shelf_life_days, then.coded_life_days)
        assert then.outcome.money.loss.mean() <= now.outcome.money.loss.mean(), name


def test_where_a_longer_life_costs_more_the_line_is_sold_for_fewer_days(
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # in the sample store every day more is worth something, so a toll is put on the fifth
    def tolled(line: Line, labour: Labour, futures: Futures, policy: Policy) -> Outcome:
        outcome = line_outcome(line, labour, futures, policy)
        toll = 1000.0 if line.shelf_life_days > 4 else 0.0
        return replace(outcome, money=replace(outcome.money, loss=outcome.money.loss + toll))

    monkeypatch.setattr(compare, "line_outcome", tolled)
    offer = switched(sample_records, "Kaiser rolls", shelf_life_days=6)
    made = compare_lines(sample_records, sample_demand, sample_shelf, [offer], settings=QUICK)
    case = made.scenarios[0].lines["Kaiser rolls"]
    assert (case.line.shelf_life_days, case.line.reduce_on_day) == (4, 4)
    assert case.coded_life_days == 6


def test_a_day_more_helps_where_a_day_is_short(one_day_more: Comparison) -> None:
    # French bread lives one day in the sample store: all that is left is thrown each night
    by_name = {
        changed[0]: case
        for changed, case in zip(one_day_more.changed, one_day_more.scenarios, strict=True)
    }
    case = by_name["French bread"]
    saved = one_day_more.now.money.loss - case.money.loss
    assert saved.mean() > 5 * saved.std(ddof=1) / np.sqrt(len(saved))
    assert case.waste_units.mean() < one_day_more.now.waste_units.mean()


def test_lines_left_alone_keep_their_week(dearer_dough: Comparison) -> None:
    scenario = dearer_dough.scenarios[0]
    for name, case in dearer_dough.now.lines.items():
        if name == "Italian loaf":
            assert scenario.lines[name] is not case
        else:
            assert scenario.lines[name] is case


def test_columns_of_the_comparison(dearer_dough: Comparison) -> None:
    table = comparison_table(dearer_dough)
    assert table.columns == ["scenario", *(f"{m}_{part}" for m in MEASURES for part in PARTS)]
    assert table.height == 2
    for row in table.iter_rows(named=True):
        for measure in MEASURES:
            difference = row[f"{measure}_scenario"] - row[f"{measure}_now"]
            assert row[f"{measure}_difference"] == pytest.approx(difference, abs=1e-9)
            assert row[f"{measure}_difference_se"] > 0


def test_the_error_of_a_difference_is_that_of_paired_futures(dearer_dough: Comparison) -> None:
    scenario, now = dearer_dough.scenarios[0], dearer_dough.now
    difference = scenario.money.loss - now.money.loss
    assert difference.shape == (QUICK.judge_paths,)
    row = comparison_table(dearer_dough).row(0, named=True)
    by_hand = difference.std(ddof=1) / np.sqrt(QUICK.judge_paths)
    assert row["loss_week_difference_se"] == pytest.approx(by_hand)
    # shared futures are what makes it sharp: apart, the two weeks swing far more
    apart = np.sqrt((scenario.money.loss.var() + now.money.loss.var()) / QUICK.judge_paths)
    assert row["loss_week_difference_se"] < apart / 2


def test_result_parts_add_up(dearer_dough: Comparison) -> None:
    table = comparison_table(dearer_dough)
    for scenario, row in zip(dearer_dough.scenarios, table.iter_rows(named=True), strict=True):
        parts = result_parts_table(scenario, dearer_dough.now)
        assert parts["part"].to_list() == ["Sales", "Dough", "Disposal cost", "Labour"]
        assert parts["difference"].sum() == pytest.approx(row["result_week_difference"], abs=1e-9)
        by_part = dict(parts.iter_rows())
        dough = scenario.money.dough.mean() - dearer_dough.now.money.dough.mean()
        assert by_part["Dough"] == pytest.approx(-dough)


def test_measures_of_one_scenario_stand_in_rows(dearer_dough: Comparison) -> None:
    table = comparison_table(dearer_dough).head(1)
    measures = comparison_measures(table)
    assert measures["measure"].to_list() == [
        "Loss [money a week]",
        "Waste [units a week]",
        "Labour [hours a week]",
        "In stock [% of open days]",
        "Result [money a week]",
    ]
    for name, row in zip(MEASURES, measures.iter_rows(named=True), strict=True):
        assert [row[part] for part in PARTS] == [table[f"{name}_{part}"][0] for part in PARTS]


def test_the_same_seed_gives_the_same_and_another_other_figures(
    sample_records: Records,
    sample_demand: DemandModel,
    sample_shelf: ShelfModel,
    nothing_changed: Comparison,
) -> None:
    def again(seed: int) -> Comparison:
        settings = QUICK.model_copy(update={"seed": seed})
        return compare_lines(sample_records, sample_demand, sample_shelf, [], settings=settings)

    same, other = again(QUICK.seed), again(QUICK.seed + 1)
    np.testing.assert_array_equal(same.now.money.loss, nothing_changed.now.money.loss)
    assert not np.array_equal(other.now.money.loss, nothing_changed.now.money.loss)
