"""The loops of a perishable line to which oldest-first and freshest-first shoppers come.

Counted from the oldest on, the units that a day leaves lie between those that the oldest-first
took and those that the freshest-first took. So a day is taken in two steps: what lies ahead of
any older units and batch once the freshest-first have come, which is a product of matrices, and
then the oldest-first units, one more at a time.
"""

from functools import cache
from typing import NamedTuple

import numpy as np
from numba import njit

from shrinkwise.engine.answers import Rates, day_rates
from shrinkwise.engine.perishable import Floats, Ints, PerishableProblem, Units
from shrinkwise.engine.shelves import Shelves
from shrinkwise.engine.shoppers import beyond_older, joint_law

Law = tuple[Floats, Floats, Floats]
"""Odds of a day's units A wanted oldest first, B freshest first and D in all: P(A = a, B = b),
P(A <= a, B = b), P(D = a + k, A > a)."""


@njit(cache=True, nogil=True)
def _after_freshest(  # type: ignore[no-untyped-def]
    after, sizes, strides, older, batches, fits, begin, ahead
):
    """Value of tomorrow's shelf, less that of an empty one, by units taken from its young end.

    A row for each of the `older` shelves with each batch that fits; `ahead` comes full of zeros.
    """
    for k in range(len(older)):
        for j in range(fits[k]):
            row, taken = ahead[begin[older[k]] + j], 0
            at = older[k] * sizes[-1] + batches[j]
            for i in range(len(sizes) - 1, -1, -1):
                units = batches[j] if i == len(sizes) - 1 else at // strides[i] % sizes[i]
                for _ in range(min(units, len(row) - taken)):
                    row[taken] = after[at] - after[0]
                    at -= strides[i]
                    taken += 1


@njit(cache=True, nogil=True)
def _past_older(after, beyond, batches, ahead):  # type: ignore[no-untyped-def]
    """What lies ahead, in the same terms, where the oldest-first draw on the new batch."""
    for a in range(len(beyond)):
        for j in range(len(batches)):
            for k in range(1, min(batches[j], beyond.shape[1])):
                ahead[a, j] += beyond[a, k] * (after[batches[j] - k] - after[0])


@njit(cache=True, nogil=True)
def _some_taken(shelf, at, each, sums, spot, begin, sizes, strides, total):  # type: ignore[no-untyped-def]
    """What lies ahead where the oldest-first take some of the units not on their last day.

    One unit more at a time. With the first of them on its last day, the rest of the sum would be
    the same: it is looked up in `sums` where there is such a shelf.
    """
    taken = shelf // strides[0]
    for i in range(1, len(sizes)):
        for _ in range(shelf // strides[i] % sizes[i]):
            at -= strides[i - 1] // sizes[-1]
            taken += 1
            if taken < len(each):
                row = each[taken, begin[at] :]
                for j in range(len(total)):
                    total[j] += row[j]
            if taken < sizes[0]:
                known = sums[spot[shelf + strides[0] - strides[i]] :]
                for j in range(len(total)):
                    total[j] += known[j]
                return


@njit(cache=True, nogil=True)
def _back(  # type: ignore[no-untyped-def]
    shelves, spot, fits, each, up_to, past, empty, day_cost, batch_cost, discount, sizes, strides,
    batches, begin, value, batch,
):  # fmt: skip
    """A day back: the least cost from each shelf and the smallest batch that has it.

    `each`, `up_to` and `past` hold what lies ahead by the units taken oldest first, tomorrow's
    shelf of older units, and batch: for so many taken, for at most so many, and for more than
    all of them. Shelves with more on their last day come first.
    """
    sums = np.zeros(fits.sum())
    for n in range(len(shelves)):
        s, fit = shelves[n], fits[n]
        last, at, there = s // strides[0], 0, s // strides[0]
        # tomorrow each place holds what today the next younger one does
        for i in range(1, len(sizes)):
            units = s // strides[i] % sizes[i]
            at += units * strides[i - 1] // sizes[-1]
            there += units
        total = sums[spot[s] : spot[s] + fit]
        _some_taken(s, at, each, sums, spot, begin, sizes, strides, total)
        always = up_to[min(last, len(up_to) - 1), begin[at] :]
        least, chosen = np.inf, 0
        for j in range(fit):
            q = batches[j]
            ahead = empty + always[j] + total[j] + past[there, j]
            cost = batch_cost[q] + day_cost[last, there + q] + discount * ahead
            if cost < least:
                least, chosen = cost, q
        value[s], batch[s] = least, chosen


@njit(cache=True, nogil=True)
def _on(  # type: ignore[no-untyped-def]
    mass, batch, each, up_to, beyond, sizes, strides, onward, seen, baked
):  # fmt: skip
    """A day on: the odds `mass` of today's shelves add up to those of tomorrow's, `onward`.

    `seen` adds them up by units to sell on their last day and all of them, `baked` by batch.
    """
    # tomorrow's shelf of the first so many units, counted from the oldest on
    upto = np.zeros(seen.shape[1], np.int64)
    for s in range(len(mass)):
        # the rest is far below rounding, and slow as denormal numbers
        if mass[s] > 1e-28:
            last, older = s // strides[0], 0
            for i in range(len(sizes)):
                for _ in range(s // strides[i] % sizes[i]):
                    older += 1
                    upto[older] = upto[older - 1] + (strides[i - 1] if i > 0 else 0)
            there = older + batch[s]
            for unit in range(older + 1, there + 1):
                upto[unit] = upto[unit - 1] + 1
            rest = mass[s]
            row = up_to[min(last, len(up_to) - 1)]
            for b in range(min(there - last, len(row))):
                onward[upto[there - b]] += mass[s] * row[b]
                rest -= mass[s] * row[b]
            for a in range(last + 1, min(older + 1, len(each))):
                row = each[a]
                for b in range(min(there - a, len(row))):
                    onward[upto[there - b] - upto[a]] += mass[s] * row[b]
                    rest -= mass[s] * row[b]
            row = beyond[older]
            for k in range(1, min(batch[s], len(row))):
                onward[batch[s] - k] += mass[s] * row[k]
                rest -= mass[s] * row[k]
            onward[0] += rest
            seen[last, there] += mass[s]
            baked[batch[s]] += mass[s]


class _Rows(NamedTuple):
    """Batches of a day, and where what lies ahead of them begins.

    Attributes
    ----------
    batches : array of int, shape (n_batches,)
        [units]
    older : array of int, shape (n_older,)
        How many of the batches there is room for beside each shelf of older units.
    begin : array of int
        First row of an older shelf, by its number among all.
    fits, spot : array of int
        The same for today's shelves: how many there is room for, the first row.
    """

    batches: Units
    older: Units
    begin: Units
    fits: Units
    spot: Units


class MixedLine:
    """A problem with shoppers of both kinds and a life of two days or more, with its loops."""

    def __init__(self, problem: PerishableProblem) -> None:
        self.problem, self.shelves = problem, Shelves(problem)
        self._places = self.shelves.sizes, self.shelves.strides
        # the loops count the oldest place first
        stock = self.shelves.stock.T.ravel()
        self._shelves = np.flatnonzero(stock <= problem.most_on_shelf)[::-1].copy()
        self._stock = stock[self._shelves]
        # tomorrow's shelves before the batch
        before = stock[:: int(self.shelves.sizes[-1])]
        self._older = np.flatnonzero(before <= problem.most_on_shelf)
        self._older_stock = before[self._older]
        self._law, self._rows = cache(self._law_of), cache(self._rows_of)

    def _law_of(self, day: int) -> Law:
        """The shoppers of a day, as far as a shelf can tell them apart."""
        demand, share = self.problem.demand[day], self.problem.oldest_share
        most = self.problem.most_on_shelf
        older = min(sum(size - 1 for size in self.problem.shelf_shape), most)
        each = joint_law(demand, share)[: older + 1, : most + 1]
        return (
            np.ascontiguousarray(each),
            np.cumsum(each, axis=0),
            beyond_older(demand, share, older),
        )

    def _rows_of(self, day: int, n_batches: int) -> _Rows:
        """The batches below a number of units, and the rows of those that there is room for."""
        batches = self.problem.batches[day]
        batches = batches[batches < n_batches]
        older = np.searchsorted(batches, self.problem.most_on_shelf - self._older_stock, "right")
        fits = np.searchsorted(batches, self.problem.most_on_shelf - self._stock, "right")
        begin = np.zeros(int(self._older[-1]) + 1, np.int64)
        begin[self._older] = older.cumsum() - older
        spot = np.zeros(self.shelves.count, np.int64)
        spot[self._shelves] = fits.cumsum() - fits
        return _Rows(batches, older, begin, fits, spot)

    def back(
        self, day: int, after: Floats, day_cost: Floats, batch_cost: Floats, discount: float
    ) -> tuple[Floats, Ints]:
        """Values and batches of a day of the cycle from the values of the next."""
        each, up_to, beyond = self._law(day)
        rows = self._rows(day, len(batch_cost))
        freshest = np.zeros((int(rows.older.sum()), each.shape[1]))
        _after_freshest(after, *self._places, self._older, *rows[:3], freshest)
        ahead = np.concatenate([each, up_to]) @ freshest.T
        past = np.zeros((len(beyond), len(rows.batches)))
        _past_older(after, beyond, rows.batches, past)
        value, batch = np.empty(self.shelves.count), np.zeros(self.shelves.count, np.int32)
        _back(
            self._shelves, rows.spot, rows.fits, ahead[: len(each)], ahead[len(each) :], past,
            after[0], day_cost, batch_cost, discount, *self._places, rows.batches, rows.begin,
            value, batch,
        )  # fmt: skip
        if len(self._shelves) < len(value):
            # shelves that never are go with the empty one, so that they change no bound
            never = np.ones(len(value), np.bool_)
            never[self._shelves] = False
            value[never] = value[0]
        return value, batch

    def on(self, batch: Ints, day: int, mass: Floats) -> tuple[Floats, Rates]:
        """Odds of tomorrow's shelves, and the rates of a day of the cycle."""
        onward, seen = np.zeros_like(mass), np.zeros_like(self.problem.wasted[day])
        baked = np.zeros_like(self.problem.batch_cost)
        _on(mass, batch[day], *self._law(day), *self._places, onward, seen, baked)
        return onward, day_rates(self.problem, day, seen, baked)
