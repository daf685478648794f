"""The futures of a line: who comes to the shelf on each day of each path."""

from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.factor import scaled
from shrinkwise.demand.paths import MOST_UNITS, DemandPaths
from shrinkwise.engine.policy import Days
from shrinkwise.engine.streams import BARGAIN, split_demand, with_fussy, with_more_kinds
from shrinkwise.shelf.model import ShelfModel


@dataclass(frozen=True)
class Futures:
    """Shopper streams of one line, the same for every plan that is compared.

    Attributes
    ----------
    streams : array of int16, shape (2 or 5, n_days, n_paths)
        Oldest-first and freshest-first shoppers; with the other kinds where the logs tell of any.
    means : array of float, shape (n_days, n_paths)
        Mean demand on each path [units per day]: what a baker who knows the trade expects there.
    days : Days
    after_count : array of int16, shape as `streams`, optional
        The part of the streams that comes after the shelf was counted; None where it is counted
        after close.
    fussy_until_day : int or None
        Last day on shelf on which fussy shoppers take a unit; None without other kinds.
    """

    streams: NDArray[np.int16]
    means: NDArray[np.float64]
    days: Days
    after_count: NDArray[np.int16] | None = None
    fussy_until_day: int | None = None

    @property
    def wanted(self) -> NDArray[np.int64]:
        """Units that are missed where they are not there, shape (n_days, n_paths): who comes for
        a bargain alone is left out."""
        total = self.streams.sum(axis=0, dtype=np.int64)
        return total - self.streams[BARGAIN] if len(self.streams) > BARGAIN else total

    def counted_before(self, share: float, seed: int) -> "Futures":
        """The same shoppers, with a share of each day's still to come when the shelf is counted.

        Parameters
        ----------
        share : float
            0 to 1.
        seed : int
        """
        rng = np.random.default_rng(seed)
        after = rng.binomial(self.streams, share).astype(np.int16)
        return replace(self, after_count=after)

    def first(self, n_paths: int) -> "Futures":
        """The first so many paths."""
        after = self.after_count
        return Futures(
            np.ascontiguousarray(self.streams[:, :, :n_paths]),
            self.means[:, :n_paths],
            self.days,
            None if after is None else np.ascontiguousarray(after[:, :, :n_paths]),
            self.fussy_until_day,
        )

    def upto(self, n_days: int) -> "Futures":
        """The first so many days."""
        after, days = self.after_count, self.days
        return Futures(
            np.ascontiguousarray(self.streams[:, :n_days]),
            self.means[:n_days],
            Days(days.weekday[:n_days], days.is_open[:n_days], days.first_day),
            None if after is None else np.ascontiguousarray(after[:, :n_days]),
            self.fussy_until_day,
        )

    def with_fussy(self, share: float, until_day: int, seed: int) -> "Futures":
        """The same shoppers, a share of whom are fussy.

        Parameters
        ----------
        share : float
            Of the ordinary shoppers, 0 to 1; those who are fussy already are among them.
        until_day : int
            Last day on shelf on which they take a unit.
        seed : int
            With the same one a larger share adds fussy shoppers and takes none away.

        Raises
        ------
        ValueError
            When there are fussy shoppers already, who take units until another day.
        """
        if self.fussy_until_day not in (None, until_day):
            raise ValueError(
                f"fussy shoppers take units until day {self.fussy_until_day}, not {until_day}"
            )
        after = self.after_count
        if after is None:
            streams = with_fussy(self.streams, share, seed)
        else:
            early = with_fussy(self.streams - after, share, seed)
            after = with_fussy(after, share, seed + 1)
            streams = early + after
        return replace(self, streams=streams, after_count=after, fussy_until_day=until_day)

    def with_bargains(self, times: float, seed: int) -> "Futures":
        """The same shoppers, but so many times the bargain shoppers, on average over a path's days.

        Parameters
        ----------
        times : float
            0 or more.
        seed : int
        """
        if len(self.streams) <= BARGAIN or times == 1:
            return self
        rng = np.random.default_rng(seed)
        streams, after = self.streams.copy(), self.after_count
        there = streams[BARGAIN].astype(np.int64)
        # those of a day are Poisson round the day's mean, as large a part of it as on others
        wanted = self.means * self.days.is_open[:, None]
        mean = wanted * (there.sum(axis=0) / np.maximum(wanted.sum(axis=0), 1e-9))
        factors = np.full(there.shape[1], times)
        if after is None:
            streams[BARGAIN] = np.minimum(scaled(there, mean, factors, rng), MOST_UNITS)
        else:
            late = after[BARGAIN].astype(np.int64)
            share = late.sum() / max(there.sum(), 1)
            early = scaled(there - late, mean * (1 - share), factors, rng)
            late = np.minimum(scaled(late, mean * share, factors, rng), MOST_UNITS)
            after = after.copy()
            after[BARGAIN] = late
            streams[BARGAIN] = np.minimum(early + late, MOST_UNITS)
        return replace(self, streams=streams, after_count=after)

    def counted_at_close(self) -> "Futures":
        """The same shoppers, with the shelf counted after all of them have come."""
        return replace(self, after_count=None)

    @property
    def weeks(self) -> float:
        """Weeks that are counted."""
        return (len(self.days.weekday) - self.days.first_day) / 7

    @property
    def open_days(self) -> int:
        """Open days that are counted."""
        return int(self.days.is_open[self.days.first_day :].sum())

    @property
    def n_paths(self) -> int:
        """Number of paths."""
        return self.streams.shape[2]


def line_futures(
    paths: DemandPaths,
    shelf: ShelfModel,
    name: str,
    first_day: int,
    seed: int,
    after_count: float = 0.0,
) -> Futures:
    """Split a line's demand paths into shoppers, each path with its own oldest-first share.

    Parameters
    ----------
    paths : DemandPaths
    shelf : ShelfModel
    name : str
        The line.
    first_day : int
        Index of the first day that is counted.
    seed : int
    after_count : float
        Share of a day's demand that comes after the shelf is counted, 0 to 1; none when left out.
    """
    demand, means = paths.units[name], paths.means[name]
    shares, kinds = (
        shelf.shares(name, demand.shape[1], seed),
        shelf.other_kinds(name, demand.shape[1], seed),
    )
    until = None
    if kinds is not None:
        rng = np.random.default_rng(crc32(f"{seed} {name} kinds".encode()))
        factor = kinds.factor[paths.weekday]
        demand = np.minimum(scaled(demand.astype(np.int64), means, factor, rng), MOST_UNITS)
        means, until = means * factor, kinds.until_day
    streams = split_demand(demand, shares, seed=crc32(f"{seed} {name}".encode()))
    if kinds is not None:
        bargains = kinds.uplift * means * paths.is_open[:, None]
        streams = with_more_kinds(
            streams, kinds.fussy, kinds.switching, bargains, crc32(f"{seed} {name} who".encode())
        )
    days = Days(paths.weekday, paths.is_open, first_day)
    futures = Futures(streams, means, days, fussy_until_day=until)
    if after_count == 0:
        return futures
    return futures.counted_before(after_count, crc32(f"{seed} {name} late".encode()))
