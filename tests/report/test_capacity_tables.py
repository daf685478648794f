"""What is used of what the lines share, as tables and a sentence."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from shrinkwise.planning.day_use import DayUse
from shrinkwise.planning.limit_use import LimitUse, StoreChoice
from shrinkwise.planning.plan import BakePlan
from shrinkwise.profile.capacity import Capacity
from shrinkwise.report.capacity_tables import capacity_table, limits_text, tight_limits_table
from shrinkwise.report.labels import label
from shrinkwise.report.page import plan_page
from shrinkwise.report.words import LIMITS_TITLE
from shrinkwise.tonight.sheet import PanUpSheet

SATURDAY = 5
COLUMNS = [
    "weekday",
    "limit",
    "unit",
    "used_mean",
    "used_busy",
    "capacity",
    "slack",
    "one_more",
    "value_of_one_more_week",
]


def shared(capacity: Capacity, worth: float, cost: float) -> StoreChoice:
    """20 pans on busy days and 5 hours on average; one more of the first limit on Saturday."""
    week = np.ones(7)
    used = {"pans": 20, "hours": 5}
    limits = tuple(
        LimitUse(
            limit,
            np.array(limit.most) - used[limit.unit],
            np.where((np.arange(7) == SATURDAY) & (place == 0), worth, 0.0),
        )
        for place, limit in enumerate(capacity.limits)
    )
    mean, busy = DayUse(15 * week, 5 * week), DayUse(20 * week, 6 * week)
    return StoreChoice((), mean, busy, limits, cost)


@pytest.fixture
def limited(sample_plan: BakePlan) -> BakePlan:
    capacity = Capacity(
        oven_loads={"saturday": 5}, pans_per_oven_load=4, staffed_hours={"sunday": 6, "friday": 8}
    )
    return replace(sample_plan, shared=shared(capacity, worth=3.5, cost=4.0))


def test_a_row_for_each_limit_of_a_weekday_and_one_where_there_is_none(limited: BakePlan) -> None:
    table = capacity_table(limited)
    assert table.columns == COLUMNS
    assert table.height == 14
    by_day = {(row[0], row[2]): row for row in table.rows()}
    assert by_day["saturday", "pans"][1:] == ("oven", "pans", 15, 20, 20, 0, 4, 3.5)
    assert by_day["saturday", "hours"][1:] == (None, "hours", 5, 6, None, None, None, None)
    assert by_day["sunday", "hours"][1:] == ("shift", "hours", 5, 6, 6, 1, 1, 0)


def test_closed_weekdays_have_no_rows(limited: BakePlan) -> None:
    store = limited.store.model_copy(update={"open_days": ("monday", "saturday")})
    days = capacity_table(replace(limited, store=store))["weekday"].unique()
    assert set(days) == {"monday", "saturday"}


def test_the_small_table_has_what_is_scarce_alone(limited: BakePlan, sample_plan: BakePlan) -> None:
    rows = tight_limits_table(limited).select("weekday", "limit").rows()
    assert rows == [("saturday", "oven"), ("sunday", "shift")]
    free = replace(sample_plan, shared=shared(Capacity(), 0, 0))
    assert tight_limits_table(free).is_empty()


@pytest.mark.parametrize(
    ("capacity", "worth", "cost", "said"),
    [
        (
            Capacity(oven_loads={"saturday": 5}, pans_per_oven_load=4),
            3.5,
            4.0,
            "The limits of [capacity] cost USD 4.00 a week; one more oven load on Saturday would "
            "save USD 3.50.",
        ),
        (
            Capacity(rack_slots={"saturday": 20}),
            1.0,
            4.0,
            "The limits of [capacity] cost USD 4.00 a week; one more place in the racks on "
            "Saturday would save USD 1.00.",
        ),
        (
            Capacity(staffed_hours={"saturday": 5}),
            12.0,
            30.0,
            "The limits of [capacity] cost USD 30 a week; one more hour on Saturday would save "
            "USD 12.",
        ),
        # one more is not always enough for another batch
        (
            Capacity(rack_slots={"saturday": 20}),
            0.0,
            4.0,
            "The limits of [capacity] cost USD 4.00 a week.",
        ),
        (Capacity(rack_slots={"saturday": 20}), 0.0, 0.0, None),
        (Capacity(), 0.0, 0.0, None),
    ],
)
def test_what_the_limits_cost(
    sample_plan: BakePlan, capacity: Capacity, worth: float, cost: float, said: str | None
) -> None:
    plan = replace(sample_plan, shared=shared(capacity, worth, cost))
    assert limits_text(plan) == said


def test_the_page_shows_limits_where_there_are_any(
    limited: BakePlan, sample_plan: BakePlan, sample_sheet: PanUpSheet
) -> None:
    page = plan_page(limited, sample_sheet)
    assert LIMITS_TITLE in page
    assert "one more oven load on Saturday would save USD 3.50" in page
    assert label("value_of_one_more_week") in page
    free = replace(sample_plan, shared=shared(Capacity(), 0, 0))
    assert LIMITS_TITLE not in plan_page(free, sample_sheet)


def test_the_sample_store_has_room_for_its_plan(sample_plan: BakePlan) -> None:
    assert len(sample_plan.shared.limits) == 4
    assert all(
        (use.slack > 0).all() and (use.slack < inf).all() for use in sample_plan.shared.limits
    )
    assert not any(sample_plan.shared.picks)
    assert limits_text(sample_plan) is None
    pans = capacity_table(sample_plan).filter(limit="racks")["used_mean"].sum()
    baked = sum(float(line.plan.quantities.pans.mean()) for line in sample_plan.lines)
    # a few days of the weeks ahead are closed
    assert pans == pytest.approx(baked, rel=0.03)
