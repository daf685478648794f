"""The store's weeks: seven days from its week start, named by the ISO week of their middle."""

import re
from datetime import date, timedelta

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.profile.weekdays import WEEKDAYS, Weekday

_THURSDAY = 3


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
