"""The last days of each weekday as a demand, for a line whose past weeks they foresaw better."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy.special import nbdtrik, ndtr

from shrinkwise.demand.paths import LARGEST_SHARED, StoreShocks
from shrinkwise.demand.scoring import (
    QUANTILES,
    WEEKDAYS_BACK,
    pinball_losses,
    same_weekday_quantiles,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

WEEKS_JUDGED, FEWEST_WEEKS = 26, 8
"""Past weeks on which the two are held against each other, and the fewest that tell."""

CLEARLY = 1.0
"""Standard errors of the weekly difference by which the last days must have been better."""

MOST_SOLD_OUT = 0.2
"""Share of sold-out days above which sales are no demand to go by."""


@dataclass(frozen=True)
class SameWeekday:
    """A demand that is what was sold on the last open days of the same weekday.

    Attributes
    ----------
    units : tuple of array of int
        By weekday, Monday first, the smallest first: at most `WEEKDAYS_BACK`, and those of all
        weekdays where it never was open [units per day].
    """

    units: tuple[Ints, ...]

    @classmethod
    def of(cls, sold: Ints, usable: Bools, weekday: Ints) -> Self:
        """Of days until the last of the records, arrays of shape (n_days,)."""
        seen = [sold[usable & (weekday == day)][-WEEKDAYS_BACK:] for day in range(7)]
        every = np.concatenate(seen)
        return cls(tuple(np.sort(one if len(one) else every) for one in seen))

    @property
    def means(self) -> Floats:
        """Mean of each weekday, shape (7,) [units per day]."""
        return np.array([one.mean() for one in self.units])

    def drawn(
        self, weekday: Ints, drift: Floats, shocks: StoreShocks, rng: np.random.Generator
    ) -> tuple[Ints, Floats, Floats]:
        """Units wanted, the rates that they stand for, and the mean that could be known on the
        first day, shape (n_days, n_paths) [units per day].

        Between two of the past days all is as likely; a day that is good for the store is one
        for the line, as far as its own days differ.

        Parameters
        ----------
        weekday : array of int, shape (n_days,)
        drift : array of float, shape (n_days, n_paths)
            Of the level [log units].
        shocks : StoreShocks
        rng : numpy.random.Generator
        """
        mean = self.means
        spread = np.array([one.var() for one in self.units]) / np.maximum(mean, 1e-9) ** 2
        shared = np.minimum(shocks.variance / np.maximum(spread, 1e-9), LARGEST_SHARED)
        shared = shared[weekday][:, None]
        own = rng.standard_normal(shocks.day.shape)
        place = ndtr(np.sqrt(shared) * shocks.day + np.sqrt(1 - shared) * own)
        wanted = np.stack(
            [np.quantile(self.units[day], place[at]) for at, day in enumerate(weekday)]
        )
        rate = wanted * np.exp(drift)
        whole = np.floor(rate + rng.random(rate.shape)).astype(np.int64)
        return whole, rate, np.repeat(mean[weekday][:, None], rate.shape[1], axis=1)


def foresaw_better(
    sold: Ints, floor: Bools, usable: Bools, day: Ints, mean: Floats, alpha: Floats
) -> bool:
    """Whether the last same weekdays foresaw the past weeks clearly better than a model did.

    By the weighted quantile loss of what was there to be sold (see
    `scoring.weighted_quantile_loss`), week by week.

    Parameters
    ----------
    sold : array of int, shape (n_days,)
    floor, usable : array of bool, shape (n_days,)
        Sold out; says something of the demand.
    day : array of int, shape (n,)
        Days that the model foresaw, as indices.
    mean, alpha : array of float, shape (n,)
        Of the model's negative binomial predictions of them, made before their week.
    """
    recent = day >= len(sold) - 7 * WEEKS_JUDGED
    day, mean, alpha = day[recent], mean[recent], alpha[recent]
    back = (len(sold) - 1 - day) // 7
    weeks = np.unique(back)
    if len(weeks) < FEWEST_WEEKS or floor[day].mean() > MOST_SOLD_OUT:
        return False
    model = np.ceil(nbdtrik(QUANTILES, 1 / alpha[:, None], 1 / (1 + (alpha * mean)[:, None])))
    ends = {int(week): len(sold) - 7 * int(week) - 7 for week in weeks}
    rules = {week: same_weekday_quantiles(sold[:end], usable[:end]) for week, end in ends.items()}
    rule = np.stack(
        [rules[int(week)][at - ends[int(week)]] for week, at in zip(back, day, strict=True)]
    )
    there = np.where(floor[day], sold[day], np.inf)[:, None]
    lost = [
        pinball_losses(sold[day], np.minimum(quantiles, there)).sum(axis=1)
        for quantiles in (model, rule)
    ]
    told = ~np.isnan(rule).any(axis=1)
    more = np.array([(lost[0] - lost[1])[told & (back == week)].sum() for week in weeks])
    return bool(more.mean() > CLEARLY * more.std(ddof=1) / np.sqrt(len(more)))
