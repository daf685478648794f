"""Date marks of filled lines: how long what must be kept cold may be held."""

from datetime import date, timedelta

FILLED_DAYS = 7
"""Days that a filling may be held cold, its preparation day counted (Food Code 3-501.17)."""


def last_day_of_filled(prepared: date, frozen_days: int = 0, use_by: date | None = None) -> date:
    """Last day on which something filled may be sold: its preparation day and six more.

    A shorter local code goes before this, and so does the maker's own use-by date.

    Parameters
    ----------
    prepared : datetime.date
        Day on which the filling was prepared, or its pack opened; of several ingredients that
        are kept cold, the day of the earliest.
    frozen_days : int
        Days that it lay frozen: they do not count, and the count goes on where it stopped [days].
    use_by : datetime.date, optional
        Of the maker, for an opened pack.
    """
    last = prepared + timedelta(days=FILLED_DAYS - 1 + frozen_days)
    return last if use_by is None else min(last, use_by)


def longest_filled_life(days_before_bake: int) -> int:
    """Longest shelf life of a line whose filling was held for so many days before the bake day;
    less than 1 where none is left [days]."""
    bake_day = date(2000, 1, 1)
    last = last_day_of_filled(bake_day - timedelta(days=days_before_bake))
    return (last - bake_day).days + 1
