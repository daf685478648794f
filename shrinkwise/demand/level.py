"""How many units the store sells a day, freed of the pattern of the week."""

import pandas as pd
import polars as pl
from statsmodels.tsa.seasonal import STL

from shrinkwise.records.tables import Records

WEEK = 7
FEWEST_DAYS = 2 * WEEK
"""Days from first to last below which no pattern of the week can be told."""

SCHEMA = {"date": pl.Date, "units": pl.Int64, "level_units": pl.Float64}


def sales_level(records: Records) -> pl.DataFrame:
    """Units sold by all lines on each open day, and their level.

    The level is the trend of a seasonal-trend decomposition with a period of a week, robust
    against single days (R. B. Cleveland et al., Journal of Official Statistics 6(1), 1990).
    What was sold, not what was wanted: a sold-out shelf holds it down.

    Parameters
    ----------
    records : Records

    Returns
    -------
    polars.DataFrame
        date, units [units], level_units [units per day]; empty where the records are shorter than
        two weeks.
    """
    sold = records.sales.group_by("date").agg(pl.col("units").sum()).sort("date")
    sold = sold.filter(pl.col("units") > 0)
    days = (records.last_date - records.first_date).days + 1
    if days < FEWEST_DAYS or sold.height < FEWEST_DAYS // 2:
        return pl.DataFrame(schema=SCHEMA)
    # a closed day says nothing: it is taken as lying between its neighbours
    series = pd.Series(sold["units"].to_numpy(), index=pd.DatetimeIndex(sold["date"].to_list()))
    daily = series.asfreq("D").interpolate()
    trend = STL(daily, period=WEEK, robust=True).fit().trend
    level = pl.DataFrame(
        {"date": [day.date() for day in daily.index], "level_units": trend.to_numpy()}
    )
    return sold.join(level, on="date", how="left").select(*SCHEMA).cast(SCHEMA)  # type: ignore[arg-type]
