"""Made-up stores whose demand is known, as folders of logs that tell the hours."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy import stats

from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

FIRST, DAYS = date(2025, 10, 6), 364
N_LINES, DISPERSION = 6, 0.06
OPEN, LENGTH = 7, 13
MORNING = np.array([2, 5, 8, 9, 8, 7, 6, 5, 5, 6, 5, 3, 2]) / 71
"""Shares of a day's demand in the hours from `OPEN` on."""

STORE = """
name = "Nowhere"
currency = "USD"
country = "US"
"""
LINE = """
[[lines]]
name = "Line {}"
category = "rolls"
price = 3.0
dough_cost = 1.0
shelf_life_days = 1
filled = false
"""


@dataclass(frozen=True)
class Made:
    """A made-up store: its logs, and what nobody there knows.

    Attributes
    ----------
    folder : pathlib.Path
    means : array of float, shape (N_LINES, 7)
        True means by weekday.
    wanted, sold : array of int, shape (N_LINES, DAYS)
    """

    folder: Path
    means: NDArray[np.float64]
    wanted: NDArray[np.int64]
    sold: NDArray[np.int64]

    def records(self, hours: bool) -> Records:
        """As they are read, perhaps from a till that does not tell the hours."""
        records = read_records(self.folder)
        if hours:
            return records
        days = records.sales.group_by("product", "date", maintain_order=True).agg(
            pl.exclude("units", "net_sales", "hour").first(),
            pl.lit(None, pl.Int64).alias("hour"),
            pl.col("units", "net_sales").sum(),
        )
        return replace(records, sales=days.select(records.sales.columns))


def made(folder: Path, sold_out: float, seed: int, least: float = 8, most: float = 40) -> Made:
    """Lines that last a day, baked up to the quantile of the demand that sells out so often; they
    want between `least` and `most` units a day."""
    rng = np.random.default_rng(seed)
    weekday = np.arange(DAYS) % 7
    shape = np.exp(rng.normal(0, 0.25, (N_LINES, 7)))
    means = rng.uniform(least, most, (N_LINES, 1)) * shape
    size = 1 / DISPERSION
    mu = means[:, weekday]
    baked = stats.nbinom.ppf(1 - sold_out, size, size / (size + mu)).astype(int)
    wanted = rng.negative_binomial(size, size / (size + mu))
    sold = np.minimum(wanted, baked)
    sales, bakes, disposals = [], [], []
    for line, day in np.ndindex(N_LINES, DAYS):
        name, when = f"Line {line}", (FIRST + timedelta(days=day)).isoformat()
        # who comes first finds some
        came = np.sort(rng.choice(LENGTH, wanted[line, day], p=MORNING))[: sold[line, day]]
        hours, units = np.unique(came, return_counts=True)
        sales += [
            f"{when},{name},{n},{3 * n},{OPEN + h}" for h, n in zip(hours, units, strict=True)
        ]
        bakes.append(f"{when},{name},{baked[line, day]}")
        disposals.append(f"{when},{name},{baked[line, day] - sold[line, day]},out of date")
    folder.mkdir()
    toml = STORE + "".join(LINE.format(line) for line in range(N_LINES))
    (folder / "store.toml").write_text(toml, encoding="utf-8")
    for log, header, rows in (
        ("sales", "date,product,units,net_sales,hour", sales),
        ("bakes", "date,product,units", bakes),
        ("disposals", "date,product,units,reason", disposals),
    ):
        (folder / f"{log}.csv").write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    return Made(folder, means, wanted, sold)
