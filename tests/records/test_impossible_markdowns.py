"""Markdowns of more than was on the shelf, or to a price that is none, are in doubt."""

from collections.abc import Callable

import pytest

from shrinkwise.records.tables import Records

Read = Callable[..., Records]
Doubt = tuple[str, int, str, str, str, int]

DAYS = range(2, 12)
BAKES = "date,product,units\n" + "".join(f"2026-03-{d:02},Rye loaf,6\n" for d in DAYS)
SALES = "date,product,units,net_sales,reduced\n" + "".join(
    f"2026-03-{d:02},Rye loaf,5,20.00,no\n" for d in DAYS
)
"""One loaf is left of each day's six, and no disposal is logged."""

HEADER = "date,product,units,unit_price\n"


def doubts(records: Records) -> list[Doubt]:
    assert set(records.problems["severity"]) <= {"doubt"}
    return records.problems.drop("severity", "what_to_do").rows()


def markdowns(*rows: tuple[int, int, float]) -> str:
    return HEADER + "".join(f"2026-03-{d:02},Rye loaf,{u},{price}\n" for d, u, price in rows)


ON_THE_7TH = "is more than the 11 that were on the shelf on 2026-03-07"


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        # one left over on each of five days, and the six baked
        ([(7, 11, 2.0)], []),
        ([(7, 40, 2.0)], [("markdowns.csv", 2, "units", "40, Rye loaf", 1)]),
        ([(7, 40, 2.0), (8, 2, 2.0), (9, 60, 2.0), (10, 61, 2.0)],
         [("markdowns.csv", 2, "units", "40, Rye loaf", 3)]),
        # before any batch can be past its life, what was on the shelf is not known
        ([(4, 40, 2.0)], []),
    ],
    ids=["as many as there were", "one day", "three days are one finding", "the first days"],
)  # fmt: skip
def test_more_marked_down_than_was_on_the_shelf(
    read: Read, rows: list[tuple[int, int, float]], expected: list[tuple[str, int, str, str, int]]
) -> None:
    records = read({"sales.csv": SALES, "bakes.csv": BAKES, "markdowns.csv": markdowns(*rows)})
    days = len([row for row in rows if row[1] > 20])
    also = f", and on {days - 1} more days" if days > 1 else ""
    rule = ON_THE_7TH + also
    assert doubts(records) == [(*place, rule, n) for *place, n in expected]


def test_what_is_logged_a_day_late_was_on_the_shelf_of_the_day_before(read: Read) -> None:
    bakes = BAKES.replace("2026-03-07,Rye loaf,6", "2026-03-07,Rye loaf,26")
    sales = SALES.replace("2026-03-07,Rye loaf,5", "2026-03-07,Rye loaf,25").replace(
        "25,20.00", "25,100.00"
    )
    files = {"sales.csv": sales, "bakes.csv": bakes}
    assert doubts(read(files | {"markdowns.csv": markdowns((8, 25, 2.0))})) == []
    assert len(doubts(read(files | {"markdowns.csv": markdowns((9, 25, 2.0))}))) == 1


def test_without_a_bakes_log_nobody_knows_how_many_there_were(read: Read) -> None:
    assert doubts(read({"sales.csv": SALES, "markdowns.csv": markdowns((7, 40, 2.0))})) == []


NOT_BELOW = "is not below the full price"
NOTHING = "is next to nothing, less than 5% of the full price"


@pytest.mark.parametrize(
    ("prices", "expected"),
    [
        ([2.0, 3.9, 0.2], []),
        ([2.0, 4.0, 4.1], [("markdowns.csv", 3, "unit_price", "4.00, Rye loaf", NOT_BELOW, 2)]),
        ([2.0, 0.01, 0.0], [("markdowns.csv", 3, "unit_price", "0.01, Rye loaf", NOTHING, 2)]),
        ([20.0, 2.0, 0.1], [
            ("markdowns.csv", 2, "unit_price", "20.00, Rye loaf", NOT_BELOW, 1),
            ("markdowns.csv", 4, "unit_price", "0.10, Rye loaf", NOTHING, 1),
        ]),
    ],
)  # fmt: skip
def test_a_reduced_price_that_is_none(
    read: Read, prices: list[float], expected: list[Doubt]
) -> None:
    rows = markdowns(*((day, 1, price) for day, price in zip((5, 6, 7), prices, strict=True)))
    files = {"sales.csv": SALES, "bakes.csv": BAKES, "markdowns.csv": rows}
    assert doubts(read(files)) == expected


def test_the_full_price_of_its_day_counts_where_it_was_higher(read: Read) -> None:
    """What is sold at 4.00 today was sold at 8.00 until the 7th, and reduced to 5.00."""
    dear = SALES
    for day in range(2, 8):
        dear = dear.replace(f"{day:02},Rye loaf,5,20.00", f"{day:02},Rye loaf,5,40.00")
    rows = markdowns((5, 1, 5.0), (10, 1, 5.0))
    found = doubts(read({"sales.csv": dear, "bakes.csv": BAKES, "markdowns.csv": rows}))
    assert found == [("markdowns.csv", 3, "unit_price", "5.00, Rye loaf", NOT_BELOW, 1)]
