"""What reads well and still looks wrong is said, and what is only unusual is not."""

from collections.abc import Callable, Iterable
from datetime import date, timedelta

import pytest

from shrinkwise.records.tables import Records

Read = Callable[..., Records]

HEADER = "date,product,units,net_sales\n"
NO_SALE = "has no sale of any line, and no event says that the store was closed"
WHEN_CLOSED = "has sales, although an event says that the store was closed"
FIRST = date(2026, 1, 5)
"""A Monday."""


def doubts(records: Records) -> list[tuple[str, int | None, str, str, str, int]]:
    """file, row, column, value, rule, rows of all findings, which must all be doubts."""
    assert set(records.problems["severity"]) <= {"doubt"}
    return records.problems.drop("severity", "what_to_do").rows()


def sales(*rows: tuple[int, str, int]) -> str:
    return HEADER + "".join(f"2026-03-{d:02},{name},{u},{4 * u}\n" for d, name, u in rows)


def test_days_without_any_sale_are_in_doubt_unless_the_store_was_closed(read: Read) -> None:
    days = (2, 3, 5, 9, 10)
    records = read(
        {
            "sales.csv": sales(*((day, "Rye loaf", 1) for day in days)),
            "events.csv": "date,product,kind\n2026-03-06,,closed\n2026-03-07,Rye loaf,closed\n",
        }
    )
    # a line's event does not close the store
    assert doubts(records) == [
        ("sales", None, "date", "2026-03-04", NO_SALE, 0),
        ("sales", None, "date", "2026-03-07 to 2026-03-08", NO_SALE, 0),
    ]


def test_weekdays_on_which_the_store_is_never_open_are_in_no_doubt(read: Read) -> None:
    block = '\nopen_days = ["monday", "tuesday", "friday"]\n'
    records = read({"sales.csv": sales((2, "Rye loaf", 1), (9, "Rye loaf", 1))}, block)
    assert doubts(records) == [
        ("sales", None, "date", "2026-03-03", NO_SALE, 0),
        ("sales", None, "date", "2026-03-06", NO_SALE, 0),
    ]


def test_rows_of_no_units_say_that_the_day_was_open(read: Read) -> None:
    records = read({"sales.csv": sales((2, "Rye loaf", 1), (3, "Rye loaf", 0), (4, "Bagels", 1))})
    assert doubts(records) == []
    assert records.sales["units"].to_list() == [1, 0, 1]


def test_sales_on_a_closed_day_are_in_doubt_and_rows_of_no_units_are_not(read: Read) -> None:
    records = read(
        {
            "sales.csv": sales((2, "Rye loaf", 1), (3, "Rye loaf", 0), (4, "Rye loaf", 2),
                               (4, "Bagels", 1), (5, "Rye loaf", 1)),
            "events.csv": "date,kind\n2026-03-03,closed\n2026-03-04,closed\n",
        }
    )  # fmt: skip
    assert doubts(records) == [("sales.csv", 4, "date", "2026-03-04", WHEN_CLOSED, 2)]


def test_returns_are_taken_off_the_sales_of_the_day(read: Read) -> None:
    text = sales((2, "Rye loaf", 5), (2, "Rye loaf", -2), (2, "Bagels", 1), (3, "Bagels", 1))
    records = read({"sales.csv": text})
    assert records.sales.select("product", "units", "net_sales", "rows").rows() == [
        ("Bagels", 1, 4.0, 1),
        ("Rye loaf", 3, 12.0, 2),
        ("Bagels", 1, 4.0, 1),
    ]
    assert doubts(records) == []


def test_more_returned_than_sold_is_in_doubt(read: Read) -> None:
    records = read({"sales.csv": sales((2, "Rye loaf", 2), (2, "Rye loaf", -5), (2, "Bagels", 9))})
    assert doubts(records) == [
        ("sales.csv", 2, "units", "-3, Rye loaf", "has more returned than sold on 2026-03-02", 2)
    ]


def test_a_sale_before_the_line_was_introduced_is_in_doubt(read: Read) -> None:
    rows = sales((2, "Rye loaf", 1), (3, "Rye loaf", 2), (4, "Rye loaf", 1), (4, "Bagels", 1))
    store = read({"sales.csv": rows}).folder / "store.toml"
    changed = store.read_text().replace('name = "Rye loaf"', 'name = "Rye loaf"\nintroduced = {}')
    for day, expected in (
        ("2026-03-04", [("sales.csv", 2, "product", "Rye loaf", 2)]),
        ("2026-03-02", []),
    ):
        records = read({"sales.csv": rows}, store=changed.format(day))
        rule = f"is sold before {day}, when it was introduced"
        assert doubts(records) == [(*place, rule, n) for *place, n in expected]


@pytest.mark.parametrize(
    ("day", "units", "most"),
    [
        # before any batch of the log can be past its life, what was on the shelf is not known
        (4, 99, None),
        # four batches: three days on the shelf, and one of grace for what is logged late
        (6, 16, None),
        (6, 17, 16),
        # baked on the 9th and on the 11th
        (12, 8, None),
        (12, 9, 8),
        (14, 1, 0),
    ],
)
def test_more_disposed_than_was_baked_within_the_life_is_in_doubt(
    read: Read, day: int, units: int, most: int | None
) -> None:
    bakes = "".join(f"2026-03-{d:02},Rye loaf,4\n" for d in range(2, 10)) + "2026-03-11,Rye loaf,4"
    if day == 14:
        bakes = bakes.replace("2026-03-11", "2026-03-01")
    records = read(
        {
            "bakes.csv": f"date,product,units\n{bakes}\n",
            "disposals.csv": f"date,product,units\n2026-03-{day:02},Rye loaf,{units}\n",
        }
    )
    rule = f"is more than the {most} that were baked within its shelf life"
    place = ("disposals.csv", 2, "units", f"{units}, Rye loaf")
    assert doubts(records) == ([] if most is None else [(*place, rule, 1)])


def test_disposals_without_a_bake_log_are_in_no_doubt(read: Read) -> None:
    records = read({"disposals.csv": "date,product,units\n2026-03-20,Rye loaf,99\n"})
    assert doubts(records) == []


Change = dict[tuple[date, str], int]
TOGETHER = "looks like the sales of all days from {} on, booked on one"


def ten_weeks(changes: Change) -> str:
    """About 22 loaves and 32 bagels a day, 15 more of each on Saturdays."""
    rows = []
    for k in range(70):
        day = FIRST + timedelta(days=k)
        for name, base, price in (("Rye loaf", 20, 4), ("Bagels", 30, 3)):
            usual = base + 7 * k % 5 + 15 * (day.weekday() == 5)
            units = changes.get((day, name), usual)
            rows.append(f"{day},{name},{units},{units * price}\n")
    return HEADER + "".join(rows)


def on(day: date, *units: int) -> Change:
    return dict(zip([(day, "Rye loaf"), (day, "Bagels")], units, strict=False))


MONDAY = FIRST + timedelta(days=35)
TUESDAY, WEDNESDAY = MONDAY + timedelta(days=1), MONDAY + timedelta(days=2)


def values(records: Records) -> Iterable[tuple[str, str]]:
    return [(value, rule) for _, _, _, value, rule, _ in doubts(records) if rule != NO_SALE]


def test_a_line_that_sells_for_three_days_on_one_is_in_doubt(read: Read) -> None:
    changes = on(MONDAY, 0) | on(TUESDAY, 0) | on(WEDNESDAY, 66)
    records = read({"sales.csv": ten_weeks(changes)})
    assert list(values(records)) == [(f"{WEDNESDAY}, Rye loaf", TOGETHER.format(MONDAY))]
    assert records.problems.select("file", "row", "rows").row(0) == ("sales.csv", 76, 1)


def test_two_days_on_one_are_seen_where_enough_is_sold(read: Read) -> None:
    """54 units a day together say so; the 22 loaves alone could be a good day."""
    both = on(TUESDAY, 0, 0) | on(WEDNESDAY, 44, 64)
    records = read({"sales.csv": ten_weeks(both)})
    assert list(values(records)) == [(f"{WEDNESDAY}, all lines", TOGETHER.format(TUESDAY))]
    alone = on(TUESDAY, 0) | on(WEDNESDAY, 44)
    assert list(values(read({"sales.csv": ten_weeks(alone)}))) == []


def test_a_store_that_books_three_days_on_one_is_in_doubt_once(read: Read) -> None:
    changes = on(MONDAY, 0, 0) | on(TUESDAY, 0, 0) | on(WEDNESDAY, 66, 96)
    records = read({"sales.csv": ten_weeks(changes)})
    assert list(values(records)) == [(f"{WEDNESDAY}, all lines", TOGETHER.format(MONDAY))]


@pytest.mark.parametrize(
    "changes",
    [
        {},
        on(TUESDAY, 44),
        on(MONDAY, 0) | on(TUESDAY, 32),
        on(MONDAY, 0, 0),
        on(MONDAY, 0) | on(TUESDAY, 120),
        on(MONDAY, 1) | on(TUESDAY, 44),
    ],
    ids=["as usual", "a high day", "sold out before a good day", "a day off",
         "far too much for two days", "sold on both days"],
)  # fmt: skip
def test_days_that_are_only_high_or_empty_are_not_taken_for_booked_together(
    read: Read, changes: Change
) -> None:
    assert list(values(read({"sales.csv": ten_weeks(changes)}))) == []
