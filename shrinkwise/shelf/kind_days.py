"""What a line's logs say of each day that bears on the kinds of its shoppers."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.chances import at_least
from shrinkwise.demand.line import usable_days
from shrinkwise.demand.model import DemandModel
from shrinkwise.records.ledger import LineLedger
from shrinkwise.shelf.share import MOST_DAYS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class KindDays:
    """The last year of a line, day by day; arrays of shape (n_days,) unless said otherwise.

    Attributes
    ----------
    ledger : LineLedger
    first : int
        Index of the first of these days in the ledger.
    usable : array of bool
        Says something of the demand, and the shelf held what was sold.
    weekday, sold, sold_reduced, there : array of int
        Units on the shelf in the morning are those that shoppers met [units].
    reduced_there : array of int
        At the reduced price in the morning, by the markdown log [units].
    expected : array of float
        Fitted demand [units per day].
    by_age : array of float, shape (n_days, n_ages)
        Expected full-price units on the shelf in the morning; all units where it is not told
        which are reduced [units].
    depth : array of float
        Of the reduction, over the present one (`shrinkwise.shelf.depth`).
    alpha : float
        Dispersion of the fitted demand.
    """

    ledger: LineLedger
    first: int
    usable: Bools
    weekday: Ints
    sold: Ints
    sold_reduced: Ints
    there: Ints
    reduced_there: Ints
    expected: Floats
    by_age: Floats
    depth: Floats
    alpha: float

    @classmethod
    def of(
        cls,
        ledger: LineLedger,
        demand: DemandModel,
        early_by_age: Ints,
        depth: Floats,
        oldest_first_share: float,
    ) -> "KindDays":
        """The days of a line with known bakes.

        Parameters
        ----------
        ledger : LineLedger
        demand : DemandModel
        early_by_age : array of int, shape (n_days of the ledger, life)
            As `shrinkwise.shelf.dated` has it.
        depth : array of float, shape (n_days of the ledger,)
            As `shrinkwise.shelf.depth` has it.
        oldest_first_share : float
            By which the stock is split by age.
        """
        name, n_days = ledger.line.name, len(ledger.sold)
        first = max(0, n_days - MOST_DAYS)
        part = slice(first, None)
        sold = np.maximum(ledger.sold, 0)
        there = ledger.on_hand_open + ledger.baked - ledger.disposed_early - early_by_age[:, -1]
        expected = np.zeros(n_days)
        expected[part] = demand.expected(name, ledger.dates[first:])
        days = cls(
            ledger=ledger,
            first=first,
            usable=(usable_days(ledger) & (expected > 0) & (sold <= there))[part],
            weekday=ledger.weekday[part],
            sold=sold[part],
            sold_reduced=np.clip(ledger.sold_reduced, 0, sold)[part],
            there=np.maximum(there, 0)[part],
            reduced_there=_reduced_there(ledger, early_by_age)[part],
            expected=expected[part],
            by_age=np.zeros((0, 0)),
            depth=depth[part],
            alpha=float(np.exp(demand.lines[name].params[-1])),
        )
        thrown = ledger.disposed_last_day - early_by_age[:, -1]
        return replace(days, by_age=_split_by_age(days, thrown[part], oldest_first_share))

    @property
    def mean_sold(self) -> float:
        """Of a usable day; 0 without any [units per day]."""
        return float(self.sold[self.usable].mean()) if self.usable.any() else 0.0

    @property
    def is_told(self) -> bool:
        """The till tells which sales were reduced, and the markdown log of what."""
        return bool(self.ledger.sold_reduced.any() and self.ledger.labelled.any())

    def short_of_young(self, until_day: int, oldest: float) -> Floats:
        """Chance of each day that somebody wanted a young unit beyond the last, were nobody fussy,
        and older ones were there; shape (n_days,)."""
        young = self.young(until_day)
        mean = np.maximum((1 - oldest) * self.expected, 1e-6)
        # with no old units there everybody takes the young ones: nobody is put off by age
        short = np.exp(at_least((young + 1).astype(np.float64), np.log(mean), np.log(self.alpha)))
        return np.where(self.there > young, short, 0.0)

    def young(self, until_day: int) -> Ints:
        """Full-price units in the morning that are on no later day on shelf, shape (n_days,)
        [units]."""
        old = np.round(self.by_age[:, until_day:].sum(axis=1)).astype(np.int64)
        full = self.there - self.reduced_there if self.is_told else self.there
        return np.maximum(full - old, 0)


def _reduced_there(ledger: LineLedger, early_by_age: Ints) -> Ints:
    """Units at the reduced price each morning: labelled, and neither sold nor disposed of since.

    None of them outlives its shelf life, or is more than was on the shelf after the night.
    """
    line = ledger.line
    reduced, left = np.zeros(len(ledger.sold), np.int64), 0
    more_days = line.shelf_life_days - (line.reduce_on_day or line.shelf_life_days)
    # a single broken unit, taken for one that nobody wanted, would tell of no bargain shoppers
    broken = early_by_age[:, (line.reduce_on_day or line.shelf_life_days) - 1 :].sum(axis=1)
    thrown = ledger.disposed_last_day - early_by_age[:, -1]
    for day in range(len(reduced)):
        reduced[day] = max(left + ledger.labelled[day] - broken[day], 0)
        recent = ledger.labelled[max(0, day - more_days + 1) : day + 1].sum() if more_days else 0
        left = reduced[day] - ledger.sold_reduced[day] - thrown[day]
        left = max(min(left, recent, ledger.on_hand_close[day]), 0)
    return reduced


def _split_by_age(days: KindDays, thrown: Ints, share: float) -> Floats:
    """The full-price stock of each morning by age, on average: oldest-first shoppers take from the
    old end what reduced units they do not find, and all others from the fresh one.

    Where it is not told what is reduced, all units count; shape (n_days, ages).
    """
    line, told = days.ledger.line, days.is_told
    n_ages = (line.reduce_on_day or 1) - 1 if told else line.shelf_life_days
    sold, there, baked = days.sold, days.there, days.ledger.baked[days.first :]
    aged_out, found_reduced = thrown, np.zeros_like(sold)
    if told:
        sold, there = days.sold - days.sold_reduced, days.there - days.reduced_there
        aged_out, found_reduced = np.zeros_like(sold), days.sold_reduced
        aged_out[:-1] = days.ledger.labelled[days.first + 1 :]
    found, stock = np.zeros((len(sold), n_ages)), np.zeros(n_ages)
    for day in range(len(sold) if n_ages else 0):
        # what is known of the whole tells more than what was carried from day to day
        older = max(there[day] - baked[day], 0)
        carried = stock[1:].sum()
        if carried > 0:
            stock[1:] *= older / carried
        elif n_ages > 1:
            stock[1] = older
        stock[0] = baked[day]
        found[day] = stock
        upto = np.cumsum(stock[::-1])
        first = max(share * days.sold[day] - found_reduced[day], 0.0)
        if aged_out[day]:
            first = max(stock[-1] - aged_out[day], 0.0)
        first = min(first, sold[day], upto[-1])
        stop = max(upto[-1] - max(sold[day] - first, 0.0), first)
        left = np.diff(np.clip(upto, first, stop), prepend=first)[::-1]
        stock = np.append(0.0, left[:-1])
    return found
