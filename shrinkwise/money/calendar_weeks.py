"""The store's weeks: seven days from its week start, named by the ISO week of their middle."""

import re
from datetime import date, timedelta

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.profile.weekdays import WEEKDAYS, Weekday
from shrinkwise.records.tables import Records

_THURSDAY = 3
_WEEK = timedelta(weeks=1)


def week_of(day: date, week_start: Weekday) -> date:
    """First day of the store's week that holds `day`."""
    return day - timedelta(days=(day.weekday() - WEEKDAYS.index(week_start)) % 7)


def week_name(first_day: date) -> str:
    """Name of the week that begins on `first_day`: the ISO 8601 week of its Thursday.

    Examples
    --------
    >>> week_name(date(2026, 9, 28)), week_name(date(2026, 9, 27))
    ('2026-W40', '2026-W40')
    """
    thursday = first_day + timedelta(days=(_THURSDAY - first_day.weekday()) % 7)
    year, week, _ = thursday.isocalendar()
    return f"{year}-W{week:02d}"


def whole_weeks(records: Records) -> list[date]:
    """First days of the weeks that the records hold whole, the last first: on the days of a week
    before their first or after their last one, the store is closed."""
    store, closed = records.profile, records.closed_dates
    first, last = records.first_date, records.last_date

    def is_held(day: date) -> bool:
        return first <= day <= last or day in closed or day.weekday() not in store.open_weekdays

    found, start = [], week_of(last, store.week_start)
    while start + _WEEK > first:
        if all(is_held(start + timedelta(days=day)) for day in range(7)):
            found.append(start)
        start -= _WEEK
    return found


def named_week(name: str, week_start: Weekday) -> date:
    """First day of the week called `name`, such as 2026-W40.

    Raises
    ------
    ShrinkwiseError
        When there is no such week.
    """
    match = re.fullmatch(r"(\d{4})-?W(\d{1,2})", name.strip(), flags=re.IGNORECASE)
    try:
        if match is None:
            raise ValueError
        thursday = date.fromisocalendar(int(match[1]), int(match[2]), _THURSDAY + 1)
    except ValueError:
        raise ShrinkwiseError(
            f"There is no week {name!r}. Write the year, W and the number of the week, such as "
            "2026-W40."
        ) from None
    return week_of(thursday, week_start)
