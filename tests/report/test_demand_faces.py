"""Tables, charts and the page of the demand hold what was measured."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from shrinkwise.demand.foresight import Foresight
from shrinkwise.demand.model import DemandModel
from shrinkwise.records.tables import Records
from shrinkwise.report import demand_charts
from shrinkwise.report.demand_page import demand_page
from shrinkwise.report.demand_tables import (
    DemandTables,
    demand_tables,
    effects_table,
    foresight_text,
)
from shrinkwise.report.effect_tables import clear_effects, prices_shown
from shrinkwise.report.level_chart import level_over_time


@pytest.fixture(scope="module")
def tables(sample_records: Records, sample_demand: DemandModel) -> DemandTables:
    return demand_tables(sample_records, sample_demand)


def test_the_clearest_effects_come_first(tables: DemandTables) -> None:
    clear = clear_effects(tables.store_effects)
    assert clear.height == tables.store_effects["clear"].to_list().index("no")
    for low, high in clear.select("low_pct", "high_pct").iter_rows():
        assert low * high > 0
    sizes = clear["change_pct"].abs().to_list()
    assert sizes == sorted(sizes, reverse=True)
    assert {"promotion", "local event", "holiday"} <= set(clear["effect"])


def test_one_table_holds_the_store_and_its_lines(tables: DemandTables) -> None:
    whole = effects_table(tables)
    kinds = tables.store_effects.height
    assert whole.height == kinds * 17
    assert whole["product"].unique(maintain_order=True).to_list()[0] == "All lines"
    assert whole.head(kinds)["change_pct"].equals(tables.store_effects["change_pct"])
    assert set(whole["rests_on"]) == {"own days", "other lines only"}


def test_prices_are_shown_with_their_intervals(tables: DemandTables) -> None:
    shown, told = prices_shown(tables.prices), tables.prices
    assert shown.height == told.height == 16 + 4 + 1
    first = told.row(0, named=True)
    ends = f"({first['elasticity_low']:.2f} to {first['elasticity_high']:.2f})"
    assert shown["elasticity"][0] == f"{first['elasticity']:.2f} {ends}"
    (lift,) = (name for name in shown.columns if name.startswith("lift_at_20%_off"))
    ends = f"({first['lift_low_pct']:.0f} to {first['lift_high_pct']:.0f})"
    assert shown[lift][0] == f"{first['lift_pct']:.0f} {ends}"


def test_the_chart_of_special_days_holds_their_intervals(tables: DemandTables) -> None:
    clear = clear_effects(tables.store_effects)
    chart = demand_charts.effects_of_days(clear)
    assert chart.data.equals(clear)
    first = clear.row(0, named=True)
    said = str(chart.title.text)
    assert first["effect"] in said
    assert f"{abs(first['change_pct']):.0f}%" in said
    drawn = chart.to_dict()["layer"][0]["encoding"]
    assert (drawn["x"]["field"], drawn["x2"]["field"]) == ("low_pct", "high_pct")


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (("local event", 2, 30.6, 12.3, 51.9), "it lifts it by 31% (12% to 52%)"),
        (("holiday", 9, -20.4, -25.2, -15.0), "it lowers it by 20% (15% to 25%)"),
        (("bridge day", 1, 5.0, -5.0, 15.0), "No special day moves the demand beyond doubt"),
    ],
)
def test_a_special_day_in_words(row: tuple[object, ...], said: str) -> None:
    columns = ["effect", "days", "change_pct", "low_pct", "high_pct"]
    assert said in demand_charts.effects_title(pl.DataFrame([row], schema=columns, orient="row"))


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        ([10] * 10, "fall evenly over what was foreseen: 10.0% to 10.0%"),
        ([16, 11, 9, 8, 8, 8, 8, 9, 8, 15], "more widely than was foreseen: 8.0% to 16.0%"),
        ([5, 8, 10, 12, 15, 15, 12, 10, 8, 5], "less widely than was foreseen"),
        ([5, 5, 6, 6, 8, 10, 12, 14, 16, 18], "too low: 70% of the days lie in its high half"),
        ([18, 16, 14, 12, 10, 8, 6, 6, 5, 5], "too high: 70% of the days lie in its low half"),
    ],
)
def test_a_histogram_in_words(shares: list[int], said: str) -> None:
    assert said in demand_charts.pit_title(np.array(shares, np.float64))


def test_the_histogram_and_the_weeks_hold_what_was_found(tables: DemandTables) -> None:
    foresight = tables.foresight
    bars = demand_charts.pit_histogram(foresight)
    table = bars.layer[0].data
    assert table["days_pct"].to_list() == pytest.approx(list(100 * foresight.pit))
    assert (table["low_pct"][0], table["high_pct"][-1]) == (0, 100)
    weeks = demand_charts.weeks_foreseen(foresight)
    assert weeks.data.equals(foresight.weeks)
    assert f"{foresight.in_80_pct:.0f}% of the last 52 weeks" in str(weeks.title.text)


def test_a_step_of_the_level_is_marked(tables: DemandTables) -> None:
    schema = {"since": pl.Date, "change_pct": pl.Float64}
    step = pl.DataFrame({"since": [tables.level["date"][50]], "change_pct": [12.4]}, schema=schema)
    chart = level_over_time(tables.level, step)
    assert chart.layer[-1].data["said"].to_list() == ["+12% against what was foreseen"]
    assert len(chart.layer) == 2 + len(level_over_time(tables.level).layer)


def test_lines_that_cannot_tell_are_named(tables: DemandTables) -> None:
    assert "the last 52 weeks" in foresight_text(tables.foresight)
    assert "bakes log" not in foresight_text(tables.foresight)
    none = Foresight(np.zeros(0), tables.foresight.weeks.head(0), 0, ("Rye",))
    said = foresight_text(none)
    assert "cannot be told" in said
    assert said.endswith("what was there is not known of Rye.")
    simple = replace(none, by_same_weekday=("Bagels",))
    assert "Not looked at are Bagels: the last 8 days" in foresight_text(simple)


def test_the_page_is_whole_and_shows_names_as_text(tables: DemandTables) -> None:
    scores = pl.DataFrame({"product": ["<b>Rye</b>"], "days": [7]})
    text = demand_page(replace(tables, store="Store <i>"), scores)
    assert text.count("<svg role=") == 4
    assert "&lt;b&gt;Rye&lt;/b&gt;" in text
    assert "Store &lt;i&gt;" in text
    assert "<b>Rye" not in text
    assert "own logs" in text
    assert "other lines" in text


def test_records_without_special_days_say_so(tables: DemandTables) -> None:
    none = {name: getattr(tables, name).head(0) for name in ("store_effects", "line_effects")}
    bare = replace(tables, level=tables.level.head(0), **none)
    text = demand_page(bare, pl.DataFrame({"product": ["Rye"]}))
    assert "The records hold no special day." in text
    assert text.count("<svg role=") == 2
