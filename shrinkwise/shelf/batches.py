"""Every batch by day on shelf: how its units left, and how many are still there."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from shrinkwise.engine.batch_trace import Seen, accounts_of
from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records
from shrinkwise.shelf.dated import early_by_age, labelled_by_age
from shrinkwise.shelf.freshness import Freshness
from shrinkwise.shelf.incidence import resampled
from shrinkwise.shelf.sell_through import SCHEMA, curve_table
from shrinkwise.shelf.share import GRID, IMPOSSIBLE, MOST_DAYS, SharePosterior

Ints = NDArray[np.int64]

ACCOUNTS = 20
PARTICLES = 48
FULL, REDUCED, DISPOSED = 0, 1, 2

BATCHES = {
    "bake_date": pl.Date,
    "baked_units": pl.Int64,
    "found_units": pl.Float64,
    "day_on_shelf": pl.Int64,
    "sold_full_units": pl.Float64,
    "sold_reduced_units": pl.Float64,
    "disposed_units": pl.Float64,
    "lost_sight_of_units": pl.Float64,
}


@dataclass(frozen=True)
class LineBatches:
    """The batches of the last year of a line's records, each followed to its end.

    What the logs do not say, which batch a sold unit was of, is drawn: each account is one course
    of the days that agrees with the logs, under an oldest-first share that they allow.

    Attributes
    ----------
    line : Line
    dates : tuple of datetime.date
        Bake dates, shape (n_batches,).
    baked : array of int, shape (n_batches,)
    left : array of int, shape (n_accounts, 3, n_batches, life)
        Units that left at full price, reduced and disposed of, by age.
    lost_sight_of : array of int, shape (n_accounts, n_batches, life)
        Units followed no longer after that age: still on the shelf when the records end, or
        missing from a count.
    found : array of int, shape (n_accounts, n_batches)
        Units that were there beyond what was baked, by a count or a disposal: they are followed
        with the batch, so that baked and found units are those that left or were lost sight of.
    """

    line: Line
    dates: tuple[date, ...]
    baked: Ints
    left: Ints
    lost_sight_of: Ints
    found: Ints

    @cached_property
    def sell_through(self) -> pl.DataFrame:
        """The curve of all batches: see `curve`."""
        return self.curve(np.ones(len(self.dates), np.bool_))

    @property
    def freshness(self) -> Freshness:
        """Days left at purchase of what was sold."""
        return Freshness.of(self.left[:, [FULL, REDUCED]].sum(axis=(0, 1, 2)))

    def by_weekday(self, weekday: int) -> pl.DataFrame:
        """The curve of the batches baked on a weekday, Monday 0: see `curve`."""
        return self.curve(np.array([day.weekday() == weekday for day in self.dates], np.bool_))

    def curve(self, kept: NDArray[np.bool_]) -> pl.DataFrame:
        """Cumulative incidence by day on shelf of some batches, with 90% intervals.

        The batches of a week are resampled together, each time with the next account.

        Parameters
        ----------
        kept : array of bool, shape (n_batches,)

        Returns
        -------
        polars.DataFrame
            As `shrinkwise.shelf.sell_through.SCHEMA` [% of units baked]; the bounds are null with
            batches of a single week; empty without a unit.
        """
        if not self.left[:, :, kept].any():
            return pl.DataFrame(schema=SCHEMA)
        weeks = np.array([day.toordinal() // 7 for day in self.dates])[kept]
        found = resampled(
            self.left[:, :, kept].astype(np.float64),
            self.lost_sight_of[:, kept].astype(np.float64),
            weeks,
            seed=1,
        )
        if len(np.unique(weeks)) < 2:
            return curve_table(found.share)
        return curve_table(found.share, found.low, found.high)

    def table(self) -> pl.DataFrame:
        """One row per batch and day on shelf, units as the mean of the accounts.

        Returns
        -------
        polars.DataFrame
            As `BATCHES` has it; `found_units` are of the whole batch, as `baked_units` are.
        """
        n, life = len(self.dates), self.line.shelf_life_days
        left, lost = self.left.mean(axis=0), self.lost_sight_of.mean(axis=0)
        return pl.DataFrame(
            {
                "bake_date": [day for day in self.dates for _ in range(life)],
                "baked_units": np.repeat(self.baked, life),
                "found_units": np.repeat(self.found.mean(axis=0), life),
                "day_on_shelf": np.tile(np.arange(1, life + 1), n),
                "sold_full_units": left[FULL].ravel(),
                "sold_reduced_units": left[REDUCED].ravel(),
                "disposed_units": left[DISPOSED].ravel(),
                "lost_sight_of_units": lost.ravel(),
            },
            schema=BATCHES,
        )


def line_batches(
    records: Records, ledger: LineLedger, posterior: SharePosterior, seed: int
) -> LineBatches:
    """Follow every batch of a line with known bakes and disposals.

    Bake dates on the rows of the markdown and disposal logs are used, and so is the till's word
    on which sales were reduced; the rest is given to batches by the particles of the
    oldest-first share.

    Parameters
    ----------
    records : Records
    ledger : LineLedger
    posterior : SharePosterior
        Of the same line, told from its disposals.
    seed : int

    Returns
    -------
    LineBatches
        From the last year; batches that may have stood behind stock from before it are left out.
    """
    line, n_days = ledger.line, len(ledger.sold)
    life, first = line.shelf_life_days, max(0, n_days - MOST_DAYS)
    rng = np.random.default_rng(seed)
    reduce_age = life if line.reduce_on_day is None else line.reduce_on_day - 1
    account = accounts_of(
        _seen(records, ledger, first),
        life,
        reduce_age,
        np.clip(posterior.draws(ACCOUNTS, rng), GRID[0], GRID[-1]),
        rng.random((ACCOUNTS, n_days - first, PARTICLES + 2)),
        IMPOSSIBLE,
        life,
    )
    bakes = np.flatnonzero(ledger.baked[first:])
    bakes = bakes[bakes >= life]
    day = bakes[:, None] + np.arange(life)
    inside, age = day < n_days - first, np.arange(life)
    at = (slice(None), np.where(inside, day, 0), age)
    sold, disposed, lost, found = (np.where(inside, part[at], 0) for part in account[:4])
    # what stands on the shelf in the morning after the records was last seen one age younger
    standing = n_days - first - bakes
    young = standing < life
    lost[:, young, standing[young] - 1] += account.left[:, standing[young]]
    is_reduced = age >= reduce_age
    return LineBatches(
        line=line,
        dates=tuple(ledger.start + timedelta(days=first + int(bake)) for bake in bakes),
        baked=ledger.baked[first:][bakes],
        left=np.stack([np.where(is_reduced, 0, sold), np.where(is_reduced, sold, 0), disposed], 1),
        lost_sight_of=lost,
        found=found.sum(axis=2),
    )


def _seen(records: Records, ledger: LineLedger, first: int) -> Seen:
    line = ledger.line
    early = early_by_age(records, ledger)
    sales = records.sales.filter(pl.col("product") == line.name)
    told = line.reduce_on_day is not None and not sales["reduced"].has_nulls()
    return Seen(
        baked=ledger.baked[first:],
        sold=np.maximum(ledger.sold, 0)[first:],
        thrown=np.maximum(ledger.disposed_last_day - early[:, -1], 0)[first:],
        on_hand_close=ledger.on_hand_close[first:],
        sold_reduced=np.where(told, np.maximum(ledger.sold_reduced, 0), -1)[first:],
        early=np.maximum(ledger.disposed_early - early[:, :-1].sum(axis=1), 0)[first:],
        early_by_age=early[first:],
        labelled_by_age=labelled_by_age(records, ledger)[first:],
    )
