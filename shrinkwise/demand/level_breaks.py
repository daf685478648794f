"""Where the level of the sales moved further than was foreseen."""

from datetime import date

import polars as pl
from scipy.special import ndtri

from shrinkwise.demand.scoring import QUANTILES, WIDE

SLACK, LIMIT = 0.5, 5.0
"""Standard deviations that a week may be off before it counts, and sum of what counts from which
the level has moved: a false alarm in some nine years of weeks (average run length 465, from
Montgomery, *Introduction to Statistical Quality Control*, 6th ed., Wiley 2009, table 9.3)."""

SCHEMA = {"since": pl.Date, "seen": pl.Date, "change_pct": pl.Float64}


def level_breaks(weeks: pl.DataFrame) -> pl.DataFrame:
    """Runs of weeks that came out higher, or lower, than was foreseen: the two-sided cumulative
    sum of Page 1954, doi 10.1093/biomet/41.1-2.100.

    What is foreseen follows a new level within weeks, so that a run tells of a move, not of the
    level that came of it. After an alarm both sums begin anew.

    Parameters
    ----------
    weeks : polars.DataFrame
        week_start, sold_units, expected_units, high_units, as in `Foresight`.

    Returns
    -------
    polars.DataFrame
        since (first week of the run), seen (week in which the sum went beyond the limit),
        change_pct (by how much the run came out above what was foreseen).
    """
    wide = float(ndtri(QUANTILES[WIDE[1]]))
    found: list[tuple[date, date, float]] = []
    sums, since = {1: 0.0, -1: 0.0}, {1: 0, -1: 0}
    rows = list(weeks.iter_rows(named=True))
    for at, row in enumerate(rows):
        deviation = (row["high_units"] - row["expected_units"]) / wide
        off = (row["sold_units"] - row["expected_units"]) / deviation if deviation > 0 else 0.0
        for side in sums:
            if sums[side] == 0:
                since[side] = at
            sums[side] = max(sums[side] + side * off - SLACK, 0.0)
        for side in sums:
            if sums[side] > LIMIT:
                run = rows[since[side] : at + 1]
                sold, expected = (
                    sum(week[name] for week in run) for name in ("sold_units", "expected_units")
                )
                change = 100 * (sold / expected - 1)
                found.append((rows[since[side]]["week_start"], row["week_start"], change))
                sums = {1: 0.0, -1: 0.0}
                break
    return pl.DataFrame(found, schema=SCHEMA, orient="row")
