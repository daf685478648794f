"""Lines that have ended are told from lines that are only not baked today."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from shrinkwise.records.ledger import stock_ledger
from shrinkwise.records.on_sale import DAYS_AWAY, last_seen, on_sale
from shrinkwise.records.tables import Records

Read = Callable[..., Records]

FIRST, DAYS = date(2026, 3, 2), 70
LAST = FIRST + timedelta(days=DAYS - 1)
ENDED = "is neither baked nor sold since {}, so that it is in no plan"


def logs(rye_days: list[int], shut: range = range(0)) -> dict[str, str]:
    """Bagels on every day that the store is open; five rye loaves baked and sold on some days."""
    sales, bakes = ["date,product,units,net_sales"], ["date,product,units"]
    for k in range(DAYS):
        for name, units in (("Bagels", 6), ("Rye loaf", 5 if k in rye_days else 0)):
            if units and k not in shut:
                day = FIRST + timedelta(days=k)
                sales.append(f"{day},{name},{units},{3 * units}")
                bakes.append(f"{day},{name},{units}")
    return {"sales.csv": "\n".join([*sales, ""]), "bakes.csv": "\n".join([*bakes, ""])}


def said(records: Records) -> list[tuple[str, str, str, str]]:
    found = records.problems.filter(records.problems["file"] == "store.toml")
    return found.select("severity", "column", "value", "rule").rows()


@pytest.mark.parametrize("away", [DAYS_AWAY - 1, DAYS_AWAY, DAYS_AWAY + 10])
def test_a_line_ends_after_four_weeks_without_it(read: Read, away: int) -> None:
    records = read(logs(list(range(DAYS - away))))
    last = LAST - timedelta(days=away)
    ended = away >= DAYS_AWAY
    assert said(records) == (
        [("doubt", "product", "Rye loaf", ENDED.format(last))] if ended else []
    )
    assert records.want_a_look.is_empty() is not ended
    ledgers = stock_ledger(records)
    assert last_seen(ledgers["Rye loaf"]) == (last if ended else None)
    assert last_seen(ledgers["Bagels"]) is None
    assert on_sale(ledgers["Rye loaf"]).sum() == (DAYS - away if ended else DAYS)


def test_a_bake_without_a_sale_keeps_a_line_on_sale(read: Read) -> None:
    files = logs(list(range(20)))
    files["bakes.csv"] += f"{LAST - timedelta(days=3)},Rye loaf,5\n"
    assert said(read(files)) == []


def test_no_line_ends_while_the_store_is_shut(read: Read) -> None:
    """Twenty-two days shut, and ten days open without the rye."""
    records = read(logs(list(range(38)), shut=range(38, 60)))
    assert said(records) == []
    assert on_sale(stock_ledger(records)["Rye loaf"]).all()


def test_a_line_that_is_back_is_new_again(read: Read) -> None:
    """Out of its season it was not on sale; that it is baked again takes the doubt away."""
    records = read(logs([*range(10), *range(60, DAYS)]))
    assert said(records) == []
    there = on_sale(stock_ledger(records)["Rye loaf"])
    assert there.tolist() == [day < 10 or day >= 60 for day in range(DAYS)]


def test_a_line_that_was_never_sold_has_not_ended(read: Read) -> None:
    assert said(read(logs([]))) == []
