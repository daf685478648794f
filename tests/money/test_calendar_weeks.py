"""The store's weeks: ISO 8601 names, whatever day the store's week begins on."""

from datetime import date, timedelta

import pytest

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.money.calendar_weeks import named_week, week_name, week_of
from shrinkwise.profile.weekdays import WEEKDAYS, Weekday

# Markus Kuhn, "A summary of the international standard date and time notation", gives the first
# row; the others are published examples and what Python's date.isocalendar says.
PUBLISHED = [
    (date(1996, 12, 30), "1997-W01"),
    (date(2019, 12, 30), "2020-W01"),
    (date(2024, 12, 20), "2024-W51"),
    (date(2024, 12, 30), "2025-W01"),
]
FROM_ISOCALENDAR = [
    (date(2008, 12, 28), "2008-W52"),
    (date(2010, 1, 3), "2009-W53"),
    (date(2021, 1, 3), "2020-W53"),
    (date(2026, 12, 28), "2026-W53"),
    (date(2027, 1, 3), "2026-W53"),
]


@pytest.mark.parametrize(("day", "name"), PUBLISHED + FROM_ISOCALENDAR)
def test_a_day_lies_in_the_week_of_its_iso_name(day: date, name: str) -> None:
    year, week, _ = day.isocalendar()
    assert name == f"{year}-W{week:02d}"
    monday = week_of(day, "monday")
    assert monday.weekday() == 0
    assert monday <= day <= monday + timedelta(days=6)
    assert week_name(monday) == name
    assert named_week(name, "monday") == monday


def test_every_day_of_forty_years_agrees_with_isocalendar() -> None:
    # one run through all leap-year and weekday combinations of a calendar
    day = date(1995, 1, 1)
    while day < date(2035, 1, 1):
        year, week, _ = day.isocalendar()
        assert week_name(week_of(day, "monday")) == f"{year}-W{week:02d}", day
        day += timedelta(days=1)


@pytest.mark.parametrize("week_start", WEEKDAYS)
def test_names_and_weeks_match_for_any_week_start(week_start: Weekday) -> None:
    first = week_of(date(2025, 6, 4), week_start)
    names = set()
    for _ in range(60):
        assert WEEKDAYS[first.weekday()] == week_start
        # a name is never given to two weeks, and leads back to its own
        name = week_name(first)
        assert name not in names
        names.add(name)
        assert named_week(name, week_start) == first
        assert {week_of(first + timedelta(days=k), week_start) for k in range(7)} == {first}
        first += timedelta(weeks=1)


def test_a_sunday_week_is_named_by_its_thursday() -> None:
    # Sunday 27 September 2026 belongs to ISO week 39, but its store week's Thursday to 40
    assert week_name(date(2026, 9, 27)) == "2026-W40"
    assert named_week("2026-W40", "sunday") == date(2026, 9, 27)
    assert named_week("2026-W40", "monday") == date(2026, 9, 28)


@pytest.mark.parametrize(
    ("week_start", "first"),
    [
        # each is the only week from that weekday on that holds Thursday 1 October 2026, ISO week 40
        ("friday", date(2026, 9, 25)),
        ("saturday", date(2026, 9, 26)),
        ("sunday", date(2026, 9, 27)),
        ("monday", date(2026, 9, 28)),
        ("tuesday", date(2026, 9, 29)),
        ("wednesday", date(2026, 9, 30)),
        ("thursday", date(2026, 10, 1)),
    ],
)
def test_week_forty_is_the_one_with_its_thursday(week_start: Weekday, first: date) -> None:
    assert named_week("2026-W40", week_start) == first
    assert week_name(first) == "2026-W40"


@pytest.mark.parametrize("name", ["2026W40", "2026-w40", " 2026-W40 "])
def test_a_name_may_be_written_with_less_care(name: str) -> None:
    assert named_week(name, "monday") == date(2026, 9, 28)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "40",
        "W40",
        "2026",
        "2026-40",
        "2026-W00",
        "2026-W54",
        "2025-W53",
        "2026-W400",
        "0000-W01",
    ],
)
def test_bad_names_are_refused(name: str) -> None:
    with pytest.raises(ShrinkwiseError) as caught:
        named_week(name, "monday")
    assert repr(name) in str(caught.value)
    assert "2026-W40" in str(caught.value)
