"""The columns of the regression on days that one can name."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.demand.calendar import Calendar, sunday_step
from shrinkwise.demand.effects import LEVEL_WEEKS, covariance, effects_of
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.special_days import special_days

LINE = "Bagels"


@pytest.fixture(scope="module")
def calendar(sample_demand: DemandModel) -> Calendar:
    return sample_demand.calendar


def column(calendar: Calendar, name: str, dates: list[date]) -> NDArray[np.float64]:
    at = [one.name for one in calendar.layout].index(name)
    return calendar.effects(LINE, dates, np.zeros(len(dates)))[:, at]


def test_there_is_a_column_for_every_name(calendar: Calendar) -> None:
    dates = [date(2026, 1, 1), date(2026, 1, 2)]
    effects = calendar.effects(LINE, dates, np.zeros(2))
    assert effects.shape == (2, len(calendar.layout))
    names = [one.name for one in calendar.layout]
    assert len(set(names)) == len(names)
    assert column(calendar, "thursday", dates).tolist() == [1, 0]


def test_days_round_a_holiday(calendar: Calendar) -> None:
    """Independence Day 2024 was a Thursday; in 2027 it is a Sunday, kept on the Monday after."""
    july = [date(2024, 7, day) for day in (3, 4, 5, 6)]
    assert column(calendar, "holiday", july).tolist() == [0, 1, 0, 0]
    assert column(calendar, "holiday eve", july).tolist() == [1, 0, 0, 0]
    assert column(calendar, "day after holiday", july).tolist() == [0, 0, 1, 0]
    assert column(calendar, "bridge day", july).tolist() == [0, 0, 1, 0]
    sunday = [date(2027, 7, 3), date(2027, 7, 4)]
    assert column(calendar, "holiday eve on Saturday", sunday).tolist() == [1, 0]
    assert column(calendar, "holiday on Sunday", sunday).tolist() == [0, 1]


def test_a_holiday_steps_towards_the_lines_own_sunday(calendar: Calendar) -> None:
    dates = [date(2024, 7, 3), date(2024, 7, 4), date(2027, 7, 4)]
    step = calendar.sunday_step[LINE]
    assert step[6] == 0
    assert column(calendar, "holiday as Sunday", dates) == pytest.approx([0, step[3], 0])


def test_a_sunday_step_is_read_from_ordinary_days() -> None:
    """Sundays sell twice what other days do; the holidays, which sell ten times as much, do not
    count. A store that is shut on Sundays has no such step."""
    dates = [date(2025, 1, 1) + timedelta(days=day) for day in range(200)]
    weekday = np.array([day.weekday() for day in dates])
    sold = np.where(weekday == 6, 40, 20)
    holidays = frozenset(dates[::30])
    sold[::30] = 200
    is_open = np.ones(200, np.bool_)
    step = sunday_step(sold, is_open, dates, holidays)
    assert step == pytest.approx([np.log(2)] * 6 + [0])
    assert sunday_step(sold, weekday != 6, dates, holidays) is None


def test_days_with_an_effect_of_their_own() -> None:
    public = {date(2026, 12, 25): "Christmas Day", date(2025, 12, 25): "Christmas Day"}
    days = special_days(public, range(2025, 2027))
    assert days["Christmas Day"] == {date(2025, 12, 25), date(2026, 12, 25)}
    assert days["12-24"] == {date(2025, 12, 24), date(2026, 12, 24)}
    # Easter Sunday 2025 and 2026: 20 and 5 April (the tables of the almanac)
    assert days["Easter Saturday"] == {date(2025, 4, 19), date(2026, 4, 4)}
    assert days["Shrove Tuesday"] == {date(2025, 3, 4), date(2026, 2, 17)}
    kinds = {one.name: one.kind for one in effects_of(days)}
    assert kinds["12-24"] == kinds["12-31"] == "half day"
    assert kinds["Christmas Day"] == "special day"


def test_days_round_closures_planned_or_not(calendar: Calendar) -> None:
    """The store was suddenly shut on 26 January 2026; it plans to be on Christmas Day."""
    january = [date(2026, 1, day) for day in (25, 26, 27)]
    assert column(calendar, "day before closing", january).tolist() == [1, 0, 0]
    assert column(calendar, "day after closing", january).tolist() == [0, 0, 1]
    coming = [date(2026, 12, day) for day in (24, 25, 26)]
    assert column(calendar, "day after closing", coming).tolist() == [0, 0, 1]
    both = replace(calendar, shut=calendar.shut | {date(2026, 12, 26)})
    assert column(both, "before two closed", coming).tolist() == [1, 0, 0]


def test_school_holidays_and_promotions_of_the_store(calendar: Calendar) -> None:
    days = [date(2026, 8, day) for day in (21, 22)]
    changed = replace(
        calendar,
        school=frozenset(days[:1]),
        promoted=frozenset({("Croissants", days[0]), (None, days[1])}),
    )
    assert column(changed, "school holiday", days).tolist() == [1, 0]
    assert column(changed, "school holiday in summer", days).tolist() == [1, 0]
    assert column(changed, "promotion", days).tolist() == [0, 1]
    assert column(changed, "promotion of another line", days).tolist() == [1, 0]


def test_the_level_steps_before_the_origin_and_stays(calendar: Calendar) -> None:
    ages = (7 * 80 + 1, 7 * 80 - 1, 13, 0, -90)
    dates = [calendar.origin - timedelta(days=age) for age in ages]
    steps = calendar.effects(LINE, dates, np.zeros(len(dates)))[:, -len(LEVEL_WEEKS) :]
    assert steps.sum(axis=1).tolist() == [0, 1, 6, 6, 6]


def test_the_steps_of_the_level_are_a_random_walk() -> None:
    """Their variances add up to weeks x the variance of a week."""
    layout = effects_of(())
    own = np.diag(covariance(layout, "line"))[-len(LEVEL_WEEKS) :]
    assert own.sum() == pytest.approx(80 * 0.01**2)
    assert own[-1] == pytest.approx(2 * 0.01**2)
