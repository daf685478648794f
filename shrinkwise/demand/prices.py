"""The full price of a line on each past day, told from the till."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.demand.calendar import Calendar
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

MEDIAN_DAYS = 7
LARGEST_LOG_RATIO = 1.0


def past_price_ratio(
    records: Records, calendar: Calendar, ledger: LineLedger
) -> NDArray[np.float64]:
    """Log of each past day's price over the present price.

    On a promotion day the price is the promotion's. On others it is the median over a week of
    money over units of the full-price rows, so that a mistyped day does not look like a
    change of price.

    Parameters
    ----------
    records : Records
    calendar : Calendar
    ledger : LineLedger

    Returns
    -------
    array of float, shape (n_days,)
        0 where the price was the present one; at most 1 away from it.
    """
    line = ledger.line
    full_price_rows = records.sales.filter(
        pl.col("product") == line.name,
        pl.col("units") > 0,
        pl.col("net_sales") > 0,
        ~pl.col("reduced").fill_null(False),
    )
    paid = full_price_rows.group_by("date").agg(
        paid=pl.col("net_sales").sum() / pl.col("units").sum()
    )
    promotion = [calendar.promotions.get((line.name, day)) for day in ledger.dates]
    frame = pl.DataFrame(
        {"date": ledger.dates, "promotion": promotion},
        schema={"date": pl.Date, "promotion": pl.Float64},
    )
    usual = pl.when(pl.col("promotion").is_null()).then(pl.col("paid"))
    median = usual.rolling_median(MEDIAN_DAYS, min_samples=1, center=True)
    price = (
        frame.join(paid, on="date", how="left", maintain_order="left")
        .select(
            pl.coalesce("promotion", median.forward_fill().backward_fill()).fill_null(line.price)
        )
        .to_series()
        .to_numpy()
    )
    return np.clip(np.log(price / line.price), -LARGEST_LOG_RATIO, LARGEST_LOG_RATIO)
