"""The day that was still under way when the shelf was counted and the records ended."""

from dataclasses import dataclass

import polars as pl

from shrinkwise.records.tables import Records


@dataclass(frozen=True)
class Today:
    """What the records say of a line on that day, up to the count.

    Attributes
    ----------
    baked, sold, disposed : int
        [units]
    counted : int or None
        Units on the shelf by the counts log; None where it is silent.
    """

    baked: int
    sold: int
    disposed: int
    counted: int | None


def day_under_way(records: Records) -> dict[str, Today]:
    """The last day of the records by line; no lines where the shelf is counted after close."""
    if records.profile.demand_after_count_pct == 0:
        return {}
    on_day = pl.col("date") == records.last_date

    def units(table: pl.DataFrame) -> dict[str, int]:
        sums = table.filter(on_day).group_by("product").agg(pl.col("units").sum())
        return dict(sums.iter_rows())

    baked, sold, disposed, counted = map(
        units, (records.bakes, records.sales, records.disposals, records.counts)
    )
    return {
        line.name: Today(
            baked=baked.get(line.name, 0),
            sold=max(sold.get(line.name, 0), 0),
            disposed=disposed.get(line.name, 0),
            counted=counted.get(line.name),
        )
        for line in records.profile.lines
    }
