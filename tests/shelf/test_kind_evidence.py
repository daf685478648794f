"""How many days it takes to tell of fussy shoppers."""

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest
from ledgers import ledger_of

from shrinkwise.demand.model import DemandModel
from shrinkwise.profile.line import Line
from shrinkwise.records.tables import SCHEMAS, Records
from shrinkwise.shelf.kind_fit import kind_evidence
from shrinkwise.shelf.kinds import NO_DAY_SET, TOO_MANY, Estimate
from shrinkwise.shelf.share import GRID, SharePosterior, StockPosterior

LINE = Line(name="Rye", category="breads", price=4, dough_cost=1, shelf_life_days=3)
EMPTY = {name: SCHEMAS[name].create_empty() for name in ("disposals", "markdowns")}
RECORDS: Records = SimpleNamespace(**EMPTY)  # type: ignore[assignment]
DEMAND: DemandModel = SimpleNamespace(  # type: ignore[assignment]
    calendar=None,
    expected=lambda name, dates: np.full(len(dates), 10.0),
    lines={LINE.name: SimpleNamespace(params=np.array([np.log(0.05)]))},
)
STOCK = StockPosterior(np.array([0.5]), np.zeros((1, 1, 3), np.int64), np.ones((1, 1)))
ALONE = SharePosterior(np.full(len(GRID), 1 / len(GRID)), STOCK)


@pytest.mark.parametrize(
    ("n_days", "closed", "reason"),
    [
        (19, 0, "only 19 days tell of them"),
        (20, 0, "only 20 days tell of them"),
        (59, 0, "only 59 days tell of them"),
        (60, 0, None),
        (70, 11, "only 59 days tell of them"),
        (70, 10, None),
    ],
)
def test_sixty_days_tell_of_fussy_shoppers(n_days: int, closed: int, reason: str | None) -> None:
    """Ten of twelve units on the shelf are sold on each; a closed day tells nothing."""
    ledger = ledger_of(LINE, n_days, baked=10, sold=10, on_hand_open=2, on_hand_close=2)
    ledger = replace(ledger, is_open=np.arange(n_days) >= closed)
    found = kind_evidence(RECORDS, ledger, DEMAND, ALONE)
    assert found.reason_fussy == reason
    assert found.reason_reduced == "the line is never reduced"
    assert found.draws is None


REDUCED = LINE.model_copy(update={"reduce_on_day": 3, "reduced_price": 2.0})


def test_of_very_many_units_a_day_nothing_is_told() -> None:
    """Rolls that are counted one by one."""
    many = ledger_of(REDUCED, 90, baked=400, sold=400, on_hand_open=20, on_hand_close=20)
    found = kind_evidence(RECORDS, many, DEMAND, ALONE)
    assert found.reason_fussy == found.reason_reduced == TOO_MANY
    assert not Estimate.silent(TOO_MANY).asks_for_reductions


@pytest.mark.parametrize("log", ["labelled", "sold_reduced"])
def test_reductions_in_the_logs_of_a_line_without_a_day_for_them(log: str) -> None:
    ledger = ledger_of(LINE, 90, baked=10, sold=10, on_hand_open=2, on_hand_close=2)
    ledger = replace(ledger, **{log: np.arange(90) % 2})
    found = kind_evidence(RECORDS, ledger, DEMAND, ALONE)
    assert found.reason_reduced == NO_DAY_SET
    assert not Estimate.silent(NO_DAY_SET).asks_for_reductions


def test_a_markdown_log_that_holds_only_other_lines() -> None:
    row = {
        "file": ["markdowns.csv"], "row": [1], "rows": [1], "date": [date(2026, 1, 1)],
        "product": ["Buns"], "units": [2], "unit_price": [2.0], "bake_date": [None],
    }  # fmt: skip
    others = pl.DataFrame(row, schema=EMPTY["markdowns"].schema)
    records: Records = SimpleNamespace(**EMPTY | {"markdowns": others})  # type: ignore[assignment]
    ledger = ledger_of(REDUCED, 90, baked=10, sold=10, on_hand_open=2, on_hand_close=2)
    found = kind_evidence(records, ledger, DEMAND, ALONE)
    assert found.reason_reduced == "the markdown log has nothing of it"
    assert Estimate.silent(found.reason_reduced).asks_for_reductions
