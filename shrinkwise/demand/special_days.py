"""Days that are like no other: each has an effect of its own, however small its history."""

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

from dateutil.easter import easter

YEAR_END = ((12, 22), (12, 23), (12, 24), (12, 27), (12, 28), (12, 29), (12, 30), (12, 31), (1, 2))
"""Month and day; the days among them that are public holidays go by their names."""

HALF_DAYS = ("12-24", "12-31")
"""Their names; no other day is like them."""

ROUND_EASTER = {
    -52: "Thursday before carnival",
    -49: "carnival Sunday",
    -48: "carnival Monday",
    -47: "Shrove Tuesday",
    -46: "Ash Wednesday",
    -3: "Maundy Thursday",
    -1: "Easter Saturday",
    0: "Easter Sunday",
    49: "Whit Sunday",
}
"""Days from Easter Sunday."""


def special_days(public: Mapping[date, str], years: Iterable[int]) -> dict[str, frozenset[date]]:
    """Special days by name, in the same order for the same calendar.

    Parameters
    ----------
    public : mapping of datetime.date to str
        Public holidays and their names.
    years : iterable of int

    Returns
    -------
    dict of str to frozenset of datetime.date
        Every public holiday under its name, the days round the year's end, and those that go
        by Easter.
    """
    days: dict[str, set[date]] = {}
    for day in sorted(public):
        days.setdefault(public[day], set()).add(day)
    for year in years:
        for month, of_month in YEAR_END:
            day = date(year, month, of_month)
            days.setdefault(f"{month}-{of_month}", set()).add(day)
        for after, name in ROUND_EASTER.items():
            day = easter(year) + timedelta(days=after)
            if day not in public:
                days.setdefault(name, set()).add(day)
    return {name: frozenset(days[name]) for name in sorted(days)}
