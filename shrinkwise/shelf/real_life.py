"""Real life against coded life: on which day units leave in fact, whatever the code says."""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

Ints = NDArray[np.int64]

QUALITY = r"\b(quality|stale\w*|mou?ld\w*|dry|dried)\b"
"""A reason that holds one of these words speaks of the product, not of a mishap."""

FEW_UNITS, FEW_NIGHTS = 10, 5
ROUTINE_PCT = 1.0
"""Share of the units baked from which something is done routinely."""
NEARLY_ALL = 0.9
MATCH_DAYS = 2
"""Days within which units that the ledger took for out of date turn up in the sales."""


@dataclass(frozen=True)
class RealLife:
    """What the logs say of a line's life, beside its code.

    Attributes
    ----------
    coded_days : int
        The shelf life that the store goes by [days].
    quality_from_day : int or None
        Day on shelf, before the last, on which disposals for quality start; None where they do
        not, or not routinely.
    quality_units, early_units : int
        Disposed of for quality, and for any reason, on a day on shelf before the last [units].
    left_after_code : int
        Labelled or disposed of, by their bake date, after the coded life [units].
    sold_after_code : int
        Sold though no unit within its coded life was left: estimated from the balance of bakes,
        sales and disposals [units].
    baked : int
        [units]
    """

    coded_days: int
    quality_from_day: int | None
    quality_units: int
    early_units: int
    left_after_code: int
    sold_after_code: int
    baked: int

    @property
    def disposes_early(self) -> bool:
        """Units are routinely disposed of before the coded life is over."""
        return self._routine(self.early_units)

    @property
    def sells_after_code(self) -> bool:
        """Units are routinely sold, labelled or disposed of after the coded life."""
        return self._routine(self.sold_after_code) or self._routine(self.left_after_code)

    def _routine(self, units: int) -> bool:
        return units >= routine_units(self.baked)


def routine_units(baked: int) -> float:
    """Units of so many baked from which something is done routinely [units]."""
    return max(FEW_UNITS, ROUTINE_PCT / 100 * baked)


def real_life(records: Records, ledger: LineLedger) -> RealLife:
    """Hold the days on shelf of a line's logs against its coded life.

    Parameters
    ----------
    records : Records
    ledger : LineLedger
    """
    line, life = ledger.line, ledger.line.shelf_life_days
    of_line = pl.col("product") == line.name
    day = (pl.col("date") - pl.col("bake_date")).dt.total_days() + 1
    columns = [pl.col("date"), pl.col("units"), day.alias("day")]
    thrown = records.disposals.filter(of_line).with_columns(
        quality=pl.col("reason").fill_null("").str.to_lowercase().str.contains(QUALITY)
    )
    dated = thrown.select(*columns, pl.col("quality")).drop_nulls("day")
    labelled = records.markdowns.filter(of_line).select(columns).drop_nulls("day")
    quality = dated.filter(pl.col("quality"))
    early = dated.filter(pl.col("day") < life)
    undated_early = int(ledger.disposed_early.sum()) - int(early["units"].sum())
    baked = int(ledger.baked.sum())
    return RealLife(
        coded_days=life,
        quality_from_day=_first_day(quality, life, baked),
        quality_units=int(early.filter(pl.col("quality"))["units"].sum()),
        early_units=int(early["units"].sum()) + max(undated_early, 0),
        left_after_code=sum(
            int(rows.filter(pl.col("day") > life)["units"].sum()) for rows in (dated, labelled)
        ),
        sold_after_code=_sold_after_code(records, ledger),
        baked=baked,
    )


def _first_day(quality: pl.DataFrame, life: int, baked: int) -> int | None:
    """The day on shelf before the last from which nearly all disposals for quality are."""
    early = quality.filter(pl.col("day") < life)
    if early["units"].sum() < routine_units(baked) or early["date"].n_unique() < FEW_NIGHTS:
        return None
    by_day = quality.group_by("day").agg(pl.col("units").sum()).sort("day")
    units = by_day["units"].to_numpy()
    from_day = np.cumsum(units[::-1])[::-1] / units.sum()
    starts = by_day["day"].to_numpy()[from_day >= NEARLY_ALL]
    first = int(starts[-1])
    return first if first < life else None


def _sold_after_code(records: Records, ledger: LineLedger) -> int:
    """Units that the ledger took for out of date and that were sold in the days after.

    Where units stay on the shelf after their last night, the ledger, which knows of no disposal,
    takes them off; when they sell after all, more is sold than there was. It shows only where a
    line is baked so seldom that its stock is more than its young batches.
    """
    if ledger.bakes_inferred or records.disposals.is_empty():
        return 0
    counted = records.counts.filter(pl.col("product") == ledger.line.name)["date"].unique()
    at = (counted - ledger.start).dt.total_days().to_numpy()
    unexplained = ledger.unexplained.copy()
    unexplained[at[(at >= 0) & (at < len(unexplained))]] = 0
    taken, found = np.maximum(-unexplained, 0), np.maximum(unexplained, 0)
    matched = 0
    for day in np.flatnonzero(found).tolist():
        for before in range(day - 1, max(day - 1 - MATCH_DAYS, -1), -1):
            units = min(int(taken[before]), int(found[day]))
            taken[before] -= units
            found[day] -= units
            matched += units
    return matched
