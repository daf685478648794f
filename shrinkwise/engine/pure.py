"""The loops of a perishable line whose shoppers are all of one kind."""

import numpy as np
from numba import njit

from shrinkwise.engine.answers import Rates, day_rates
from shrinkwise.engine.perishable import Floats, Ints, PerishableProblem
from shrinkwise.engine.shelves import Shelves


@njit(cache=True, nogil=True)
def _runs(units, strides, oldest_first, tail, base, taken):  # type: ignore[no-untyped-def]
    """Tomorrow's shelf before any new batch, `base`, from so many units `taken` on.

    The last of them ends with the longest demand, whose successor stands behind it.
    """
    at, gone, count = 0, 0, 1
    for i in range(1, len(units)):
        at += units[i] * strides[i - 1]
    base[0], taken[0] = at, 0
    for j in range(len(units)):
        i = j if oldest_first else len(units) - 1 - j
        for _ in range(units[i]):
            gone += 1
            # sold or not, the oldest are not there tomorrow
            if i > 0 and tail[gone] > 0.0:
                at -= strides[i - 1]
                base[count], taken[count] = at, gone
                count += 1
    taken[count] = np.count_nonzero(tail)
    return count


@njit(cache=True, nogil=True)
def _sold_out(after, tail, n_batches):  # type: ignore[no-untyped-def]
    """What lies ahead where demand goes past so many older units and draws on the new batch."""
    ahead = np.zeros((len(tail), n_batches))
    longest = np.count_nonzero(tail) - 1
    for there in range(longest):
        for k in range(1, longest - there + 1):
            p = tail[there + k] - tail[there + k + 1]
            for q in range(n_batches):
                ahead[there, q] += p * after[max(q - k, 0)]
    return ahead


@njit(cache=True, nogil=True)
def _batch_first(ahead, after, tail, base, taken, count):  # type: ignore[no-untyped-def]
    """What lies ahead of each batch when it sells before the older units."""
    longest = np.count_nonzero(tail) - 1
    row = after[base[0] : base[0] + len(ahead)]
    for d in range(min(longest + 1, len(ahead))):
        for q in range(d + 1, len(ahead)):
            ahead[q] += (tail[d] - tail[d + 1]) * row[q - d]
    for r in range(count):
        for q in range(min(len(ahead), longest + 1 - taken[r])):
            ahead[q] += (tail[q + taken[r]] - tail[q + taken[r + 1]]) * after[base[r]]


@njit(cache=True, nogil=True)
def _back(  # type: ignore[no-untyped-def]
    after, tail, day_cost, batch_cost, discount, batches, sizes, strides, early, oldest_first,
    value, batch,
):  # fmt: skip
    """A day back: the least cost from each shelf and the smallest batch that has it.

    The loops go over all batches at once: those of one shelf lead to neighbours in `after`.
    """
    n_batches = len(batch_cost)
    units = np.zeros(len(sizes), np.int64)
    base, taken = np.empty(len(tail) + 1, np.int64), np.empty(len(tail) + 1, np.int64)
    ahead = np.empty(n_batches)
    sold_out = _sold_out(after, tail, 0 if early else n_batches)
    for s in range(len(value)):
        for i in range(len(sizes)):
            units[i] = s // strides[i] % sizes[i]
        there = units.sum()
        count = _runs(units, strides, oldest_first, tail, base, taken)
        ahead[:] = 0.0
        if early or oldest_first:
            if not early:
                taken[count] = there + 1
                ahead += sold_out[there]
            for r in range(count):
                p = tail[taken[r]] - tail[taken[r + 1]]
                row = after[base[r] : base[r] + n_batches]
                for q in range(n_batches if p > 0.0 else 0):
                    ahead[q] += p * row[q]
        else:
            _batch_first(ahead, after, tail, base, taken, count)
        least, chosen = np.inf, 0
        for q in batches:
            today = day_cost[units[0], there if early else there + q]
            cost = batch_cost[q] + today + discount * ahead[q]
            if cost < least:
                least, chosen = cost, q
        value[s], batch[s] = least, chosen


@njit(cache=True, nogil=True)
def _on(  # type: ignore[no-untyped-def]
    mass, batch, tail, sizes, strides, early, oldest_first, onward, seen, baked
):  # fmt: skip
    """A day on: the odds `mass` of today's shelves add up to those of tomorrow's, `onward`.

    `seen` adds them up by units to sell on their last day and all of them, `baked` by batch.
    """
    to_sell = np.zeros(len(sizes) + (0 if early else 1), np.int64)
    base, taken = np.empty(len(tail) + 1, np.int64), np.empty(len(tail) + 1, np.int64)
    for s in range(len(mass)):
        # the rest is far below rounding, and slow as denormal numbers
        if mass[s] > 1e-28:
            for i in range(len(sizes)):
                to_sell[i] = s // strides[i] % sizes[i]
            if not early:
                to_sell[-1] = batch[s]
            place = batch[s] if early else 0
            for r in range(_runs(to_sell, strides, oldest_first, tail, base, taken)):
                onward[base[r] + place] += mass[s] * (tail[taken[r]] - tail[taken[r + 1]])
            seen[to_sell[0], to_sell.sum()] += mass[s]
            baked[batch[s]] += mass[s]


class PureLine:
    """A problem whose shoppers are all of one kind, with its loops."""

    def __init__(self, problem: PerishableProblem) -> None:
        self.problem, self.shelves = problem, Shelves(problem)

    def back(
        self, day: int, after: Floats, day_cost: Floats, batch_cost: Floats, discount: float
    ) -> tuple[Floats, Ints]:
        """Values and batches of a day of the cycle from the values of the next."""
        value, batch = np.empty(self.shelves.count), np.empty(self.shelves.count, np.int32)
        batches = self.problem.batches[day]
        _back(
            after, self.problem.tail[day], day_cost, batch_cost, discount,
            batches[batches < len(batch_cost)], *self.shelves.kind, value, batch,
        )  # fmt: skip
        return value, batch

    def on(self, batch: Ints, day: int, mass: Floats) -> tuple[Floats, Rates]:
        """Odds of tomorrow's shelves, and the rates of a day of the cycle."""
        onward, seen = np.zeros_like(mass), np.zeros_like(self.problem.wasted[day])
        baked = np.zeros_like(self.problem.batch_cost)
        _on(mass, batch[day], self.problem.tail[day], *self.shelves.kind, onward, seen, baked)
        return onward, day_rates(self.problem, day, seen, baked)
