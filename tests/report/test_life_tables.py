"""Sell-through and freshness of a small study, by hand."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from shrinkwise.planning.life_study import LifeOption, LifeStudy
from shrinkwise.planning.outcome import Outcome
from shrinkwise.planning.rule import Rule
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.report.life_tables import freshness_table, sell_through_by_day
from shrinkwise.shelf.freshness import Freshness
from shrinkwise.shelf.sell_through import curve_table

ROLLS = Line(
    name="Rolls",
    category="rolls",
    price=4,
    dough_cost=1,
    shelf_life_days=2,
    reduce_on_day=2,
    reduced_price=2,
)
LOAF = Line(name="Loaf", category="breads", price=4, dough_cost=1, shelf_life_days=1)


def outcome(sold_by_age: list[list[int]], disposed: list[int]) -> Outcome:
    """Units by day on shelf and path, and those disposed of by path."""
    flows = SimpleNamespace(sold_by_age=np.array([sold_by_age]), disposed=np.array([disposed]))
    return SimpleNamespace(flows=flows)  # type: ignore[return-value]


def option(line: Line, life: int, best: Outcome, habit: Outcome) -> LifeOption:
    return LifeOption(line.with_life(life), Rule(np.ones(7, np.int16)), habit, best)


NOTHING = outcome([[0, 0]], [0, 0])
HABIT = outcome([[10, 10], [0, 0]], [10, 30])


@pytest.fixture(scope="module")
def study() -> LifeStudy:
    """Rolls at lives of 1 and 2 days with batches in the logs, and a loaf of one day without."""
    batches = SimpleNamespace(
        sell_through=curve_table(
            np.array([[0.5, 0.5], [0.0, 0.25], [0.0, 0.25]]),
            np.array([[0.4, 0.4], [0.0, 0.2], [0.0, 0.1234]]),
            np.array([[0.6, 0.6], [0.0, 0.3], [0.0, 0.3]]),
        ),
        by_weekday=lambda weekday: curve_table(np.zeros((3, 2))),
        freshness=Freshness.of([60, 20]),
    )
    rolls = SimpleNamespace(
        line=ROLLS,
        batches=batches,
        options=(
            option(ROLLS, 1, outcome([[80, 60]], [20, 40]), NOTHING),
            option(ROLLS, 2, outcome([[60, 40], [20, 30]], [20, 30]), HABIT),
        ),
    )
    loaf = SimpleNamespace(
        line=LOAF, batches=None, options=(option(LOAF, 1, outcome([[9, 9]], [1, 1]), NOTHING),)
    )
    store = Store(name="Corner", currency="USD", country="US", lines=(ROLLS, LOAF))
    return LifeStudy(store, (rolls, loaf), date(2026, 10, 5), PlanSettings(), {})  # type: ignore[arg-type]


def test_each_life_and_basis_has_what_is_sold_by_the_close_of_each_day(study: LifeStudy) -> None:
    """What is reduced is sold too; of two futures with 100 units each the mean stands in the row,
    and the middle nine tenths run from a twentieth to nineteen twentieths of the way between."""
    table = sell_through_by_day(study)
    assert table.columns == [
        "product",
        "shelf_life_days",
        "basis",
        "By day 1",
        "By day 2",
        "disposed_pct",
        "disposed_interval",
    ]
    rows = [
        ("Rolls", 1, "model", 70.0, None, 30.0, "21.0–39.0"),
        ("Rolls", 2, "logs", 50.0, 75.0, 25.0, "12.3–30.0"),
        ("Rolls", 2, "model", 50.0, 75.0, 25.0, "20.5–29.5"),
        ("Loaf", 1, "model", 90.0, None, 10.0, "10.0–10.0"),
    ]
    for found, by_hand in zip(table.rows(), rows, strict=True):
        assert found == pytest.approx(by_hand)


def test_freshness_has_a_row_for_each_number_of_days_left(study: LifeStudy) -> None:
    """At a life of two days 100 of 150 sold under the best plan were of the day, in the logs 60 of
    80; the habit never sold a unit of the loaf, so that nothing is said of it."""
    table = freshness_table(study)
    best, habit, third = "model, best plan", "model, present habit", 100 / 3
    rows = [
        ("Rolls", 1, best, 0.0, 0, 100.0),
        ("Rolls", 1, habit, None, 0, None),
        ("Rolls", 2, "logs", 0.75, 0, 25.0),
        ("Rolls", 2, "logs", 0.75, 1, 75.0),
        ("Rolls", 2, best, 2 / 3, 0, third),
        ("Rolls", 2, best, 2 / 3, 1, 2 * third),
        ("Rolls", 2, habit, 1.0, 0, 0.0),
        ("Rolls", 2, habit, 1.0, 1, 100.0),
        ("Loaf", 1, best, 0.0, 0, 100.0),
        ("Loaf", 1, habit, None, 0, None),
    ]
    assert table.columns == [
        "product",
        "shelf_life_days",
        "basis",
        "mean_days_left",
        "days_left",
        "share_pct",
    ]
    for found, by_hand in zip(table.rows(), rows, strict=True):
        assert found == pytest.approx(by_hand)
    assert table.schema["share_pct"] == pl.Float64
