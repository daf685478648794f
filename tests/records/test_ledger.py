"""The stock ledger against arithmetic by hand. The weeks begin on Monday, 2 March 2026."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from shrinkwise.records.ledger import LineLedger, stock_ledger
from shrinkwise.records.reading import read_records

Folder = Callable[..., Path]
Rows = dict[int, int]
"""{day of March 2026: units}"""

HEADERS = {
    "sales": "date,product,units,net_sales,reduced",
    "markdowns": "date,product,units,unit_price",
    "disposals": "date,product,units,reason,bake_date",
    "bakes": "date,product,units",
    "counts": "date,product,units",
}


def day(number: int) -> str:
    return f"2026-03-{number:02d}"


def sales(rows: Rows, product: str = "Rye loaf", reduced: str = "no") -> list[str]:
    return [f"{day(d)},{product},{units},{3 * units},{reduced}" for d, units in rows.items()]


def units(rows: Rows, product: str = "Rye loaf", more: str = "") -> list[str]:
    return [f"{day(d)},{product},{n}{more}" for d, n in rows.items()]


def ledgers(folder: Folder, **tables: list[str]) -> dict[str, LineLedger]:
    files = {
        f"{table}.csv": "\n".join([HEADERS[table], *rows]) + "\n" for table, rows in tables.items()
    }
    records = read_records(folder(files))
    assert records.files["rows_set_aside"].sum() == 0
    return stock_ledger(records)


def rye(folder: Folder, **tables: list[str]) -> LineLedger:
    return ledgers(folder, **tables)["Rye loaf"]


def test_a_week_by_hand(folder: Folder) -> None:
    """Shelf life 3 days; every day's close is open + baked - sold - disposed."""
    ledger = rye(
        folder,
        sales=[
            *sales({2: 6, 3: 7, 4: 7, 5: 3, 6: 2, 7: 1}),
            *sales({8: 1}, "Bagels"),
        ],
        bakes=units({2: 10, 3: 5, 4: 6, 5: 8}),
        disposals=[f"{day(3)},Rye loaf,1,damaged,", f"{day(7)},Rye loaf,1,out of date,"],
        counts=units({6: 2}),
    )
    assert ledger.start == date(2026, 3, 2)
    assert ledger.dates[-1] == date(2026, 3, 8)
    assert ledger.on_hand_open.tolist() == [0, 4, 1, 0, 5, 2, 0]
    # Fri: 5 - 2 = 3 by the books, 2 by the count, so one unit is unexplained
    assert ledger.on_hand_close.tolist() == [4, 1, 0, 5, 2, 0, 0]
    assert ledger.unexplained.tolist() == [0, 0, 0, 0, -1, 0, 0]
    assert ledger.disposed_early.tolist() == [0, 1, 0, 0, 0, 0, 0]
    assert ledger.disposed_last_day.tolist() == [0, 0, 0, 0, 0, 1, 0]
    # Wednesday ran out; on Saturday a unit was thrown at night, so nobody went without
    # Sunday had nothing all day while the store was open
    assert ledger.sold_out.tolist() == [False, False, True, False, False, False, True]
    assert ledger.is_open.all()
    assert not ledger.bakes_inferred


def test_nobody_goes_without_on_a_day_when_the_store_is_closed(folder: Folder) -> None:
    """No till row of any line on Tuesday: closed, and the empty shelf says nothing."""
    ledger = rye(folder, sales=sales({2: 5, 4: 5}), bakes=units({2: 5, 4: 5}))
    assert ledger.is_open.tolist() == [True, False, True]
    assert ledger.sold_out.tolist() == [True, False, True]


def test_more_sold_than_was_there_was_a_sold_out_day_with_units_from_nowhere(
    folder: Folder,
) -> None:
    ledger = rye(folder, sales=sales({2: 7, 3: 1}), bakes=units({2: 5, 3: 4}))
    assert ledger.unexplained.tolist() == [2, 0]
    assert ledger.on_hand_close.tolist() == [0, 3]
    assert ledger.sold_out.tolist() == [True, False]


@pytest.mark.parametrize(
    ("counted", "unexplained", "sold_out", "close"),
    [
        # the books say 3 left
        (3, 0, False, 3),
        (5, 2, False, 5),
        (1, -2, False, 1),
        # 3 units are gone and nobody knows when: not evidence that a shopper went without
        (0, -3, False, 0),
    ],
)
def test_a_count_is_believed_over_the_books(
    folder: Folder, counted: int, unexplained: int, sold_out: bool, close: int
) -> None:
    ledger = rye(
        folder, sales=sales({2: 7, 3: 1}), bakes=units({2: 10, 3: 4}), counts=units({2: counted})
    )
    assert ledger.unexplained.tolist() == [unexplained, 0]
    assert ledger.on_hand_close.tolist() == [close, close + 3]
    assert ledger.sold_out.tolist() == [sold_out, False]


def test_a_count_of_none_on_an_empty_shelf_confirms_that_it_sold_out(folder: Folder) -> None:
    ledger = rye(folder, sales=sales({2: 7}), bakes=units({2: 7}), counts=units({2: 0}))
    assert ledger.sold_out.tolist() == [True]
    ledger = rye(folder, sales=sales({2: 7}), bakes=units({2: 7}), counts=units({2: 1}))
    assert ledger.sold_out.tolist() == [False]
    assert ledger.unexplained.tolist() == [1]


def test_counts_of_several_batches_add_up(folder: Folder) -> None:
    ledger = rye(
        folder,
        sales=sales({2: 1, 3: 1}),
        bakes=units({2: 5, 3: 5}),
        counts=[*units({3: 3}), *units({3: 4})],
    )
    assert ledger.on_hand_close.tolist() == [4, 7]
    assert ledger.unexplained.tolist() == [0, -1]


def test_stock_cannot_outlive_its_shelf_life(folder: Folder) -> None:
    """Nobody logged that the rest of Monday's ten was thrown: it cannot be there on Thursday."""
    ledger = rye(folder, sales=sales({2: 2, 3: 1, 4: 1, 5: 1}), bakes=units({2: 10, 4: 2, 5: 3}))
    # three days on sale: on Wednesday night only Wednesday's own 2 can be there tomorrow
    assert ledger.on_hand_close.tolist() == [8, 7, 2, 4]
    assert ledger.unexplained.tolist() == [0, 0, -6, 0]
    # units that the books hold against reason are no empty shelf
    assert not ledger.sold_out.any()


def test_a_line_of_one_day_carries_nothing_over(folder: Folder, tmp_path: Path) -> None:
    path = folder(
        {
            "sales.csv": "\n".join([HEADERS["sales"], *sales({2: 5, 3: 6}, "Bagels")]) + "\n",
            "bakes.csv": "\n".join([HEADERS["bakes"], *units({2: 7, 3: 6}, "Bagels")]) + "\n",
        }
    )
    file = path / "store.toml"
    file.write_text(file.read_text().replace("shelf_life_days = 2", "shelf_life_days = 1"))
    ledger = stock_ledger(read_records(path))["Bagels"]
    assert ledger.on_hand_close.tolist() == [0, 0]
    assert ledger.unexplained.tolist() == [-2, 0]
    assert ledger.sold_out.tolist() == [False, True]


def test_without_a_bakes_log_a_daily_bake_of_what_left_later_stands_in(folder: Folder) -> None:
    """Bagels last 2 days: what was thrown on Tuesday night was baked on Monday."""
    ledger = ledgers(
        folder,
        sales=sales({2: 5, 3: 4, 4: 6, 5: 3, 6: 4}, "Bagels"),
        disposals=[
            f"{day(3)},Bagels,2,out of date,",
            f"{day(4)},Bagels,1,damaged,",
            f"{day(5)},Bagels,3,donated,",
        ],
    )["Bagels"]
    assert ledger.bakes_inferred
    assert ledger.baked.tolist() == [5 + 2, 4, 6 + 1 + 3, 3, 4]
    assert ledger.on_hand_close.tolist() == [2, 0, 3, 0, 0]
    assert not ledger.unexplained.any()
    # an invented bake always suffices, so it can never show that a shopper went without
    assert not ledger.bakes_known
    assert not ledger.sold_out.any()
    # thrown on Tuesday and Thursday after two days, and labelled nowhere
    assert ledger.bake_seen.tolist() == [True, False, True, False, False]


def test_without_a_bakes_log_a_line_of_one_day_shows_when_it_sold_out(folder: Folder) -> None:
    """All that is left is thrown the same night: nothing thrown means that nothing was left."""
    thrown = [f"{day(2)},Bagels,2,,"]
    path = folder(
        {
            "sales.csv": "\n".join([HEADERS["sales"], *sales({2: 5, 3: 6}, "Bagels")]) + "\n",
            "disposals.csv": "\n".join([HEADERS["disposals"], *thrown]) + "\n",
        }
    )
    file = path / "store.toml"
    file.write_text(file.read_text().replace("shelf_life_days = 2", "shelf_life_days = 1"))
    ledger = stock_ledger(read_records(path))["Bagels"]
    assert ledger.bakes_inferred
    assert ledger.bakes_known
    assert ledger.baked.tolist() == [7, 6]
    assert ledger.sold_out.tolist() == [False, True]


@pytest.mark.parametrize("n_days", [1, 2, 3, 4, 5])
def test_records_shorter_than_the_shelf_life_are_read_too(folder: Folder, n_days: int) -> None:
    """With fewer than five days on record no batch of a five-day line is seen to its end."""
    rows = sales(dict.fromkeys(range(2, 2 + n_days), 4))
    thrown = f"{day(1 + n_days)},Rye loaf,1,out of date,"
    path = folder(
        {
            "sales.csv": "\n".join([HEADERS["sales"], *rows]) + "\n",
            "disposals.csv": "\n".join([HEADERS["disposals"], thrown]) + "\n",
        }
    )
    file = path / "store.toml"
    file.write_text(file.read_text().replace("shelf_life_days = 3", "shelf_life_days = 5", 1))
    ledger = stock_ledger(read_records(path))["Rye loaf"]
    assert ledger.bakes_inferred
    # what was thrown on the fifth day was baked on the first; on a day before, before the records
    assert ledger.baked.tolist() == [4 + (n_days == 5), 4, 4, 4, 4][:n_days]
    assert ledger.unexplained.tolist() == [0] * (n_days - 1) + [int(n_days < 5)]


def test_disposals_are_told_apart_by_bake_date_and_else_by_reason(folder: Folder) -> None:
    rows = [
        # a bake date decides: three days on sale are over on the third
        (f"{day(4)},Rye loaf,1,damaged,{day(2)}", True),
        (f"{day(4)},Rye loaf,2,out of date,{day(3)}", False),
        # without one the reason does; no reason means the usual one
        (f"{day(4)},Rye loaf,4,Out of date,", True),
        (f"{day(4)},Rye loaf,8,donated,", True),
        (f"{day(4)},Rye loaf,16,,", True),
        (f"{day(4)},Rye loaf,32,quality,", False),
    ]
    ledger = rye(
        folder,
        sales=sales({2: 1, 3: 1, 4: 1}),
        bakes=units({2: 80, 3: 5, 4: 5}),
        disposals=[row for row, _ in rows],
    )
    assert ledger.disposed_last_day.tolist() == [0, 0, 1 + 4 + 8 + 16]
    assert ledger.disposed_early.tolist() == [0, 0, 2 + 32]


def test_reduced_units_returns_and_labels_are_kept_apart(folder: Folder) -> None:
    ledger = rye(
        folder,
        sales=[*sales({2: 5, 3: 4}), *sales({3: 2}, reduced="yes"), *sales({3: -1})],
        bakes=units({2: 9}),
        markdowns=[f"{day(3)},Rye loaf,4,2.00"],
    )
    assert ledger.sold.tolist() == [5, 4 + 2 - 1]
    assert ledger.sold_reduced.tolist() == [0, 2]
    assert ledger.labelled.tolist() == [0, 4]
    # the returned unit stands on the shelf again: 9 - 5 = 4, then 4 - 5 would be one short
    assert ledger.unexplained.tolist() == [0, 1]


def test_a_line_begins_with_its_first_sale_or_bake_and_ends_with_the_records(
    folder: Folder,
) -> None:
    found = ledgers(
        folder, sales=[*sales({4: 3}), *sales({2: 5, 6: 5}, "Bagels")], bakes=units({3: 4})
    )
    assert list(found) == ["Rye loaf", "Bagels"]
    assert found["Rye loaf"].start == date(2026, 3, 3)
    assert found["Rye loaf"].sold.tolist() == [0, 3, 0, 0]
    assert found["Rye loaf"].is_open.tolist() == [False, True, False, True]
    assert found["Bagels"].sold.tolist() == [5, 0, 0, 0, 5]


def test_a_line_that_was_never_sold_or_baked_has_no_ledger(folder: Folder) -> None:
    found = ledgers(folder, sales=sales({2: 5}), disposals=[f"{day(2)},Bagels,1,,"])
    assert list(found) == ["Rye loaf"]
