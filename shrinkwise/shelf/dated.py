"""Units of the rows that carry a bake date, by day and age."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

Ints = NDArray[np.int64]

MISHAPS = ("damage", "broken", "dropped", "crushed")
"""A reason that holds one of these took the unit while shoppers might still have come for it."""


def early_by_age(records: Records, ledger: LineLedger) -> Ints:
    """Disposed of before the close of their last day, where a bake date says at what age.

    Those are all before their last day and, on it, those of a mishap: that shoppers left them
    must not be read from them, although the ledger has them among the units of the last day.

    Returns
    -------
    array of int, shape (n_days, life)
        [units]
    """
    age = (pl.col("date") - pl.col("bake_date")).dt.total_days()
    mishap = pl.col("reason").str.to_lowercase().str.contains_any(list(MISHAPS))
    early = (age < ledger.line.shelf_life_days - 1) | mishap.fill_null(False)
    return _by_age(records.disposals.filter(early), ledger)[0]


def labelled_by_age(records: Records, ledger: LineLedger) -> Ints:
    """Given the reduced price, where a bake date says at what age; -1 where nothing is said.

    Returns
    -------
    array of int, shape (n_days, life)
        [units]
    """
    units, said = _by_age(records.markdowns, ledger)
    return np.where(said, units, -1)


def _by_age(rows: pl.DataFrame, ledger: LineLedger) -> tuple[Ints, NDArray[np.bool_]]:
    """Units of the rows with a bake date within the shelf life, and where there are any; both by
    day and age, shape (n_days, life)."""
    n_days, life = len(ledger.sold), ledger.line.shelf_life_days
    age = (pl.col("date") - pl.col("bake_date")).dt.total_days()
    day = (pl.col("date") - ledger.start).dt.total_days()
    dated = rows.filter(pl.col("product") == ledger.line.name).select("units", age=age, day=day)
    dated = dated.filter(pl.col("age") < life, pl.col("day").is_between(0, n_days - 1))
    at = (dated["day"].to_numpy(), dated["age"].to_numpy())
    units = np.zeros((n_days, life), np.int64)
    np.add.at(units, at, dated["units"].to_numpy())
    said = np.zeros_like(units, np.bool_)
    said[at] = True
    return units, said
