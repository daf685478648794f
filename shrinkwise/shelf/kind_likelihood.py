"""How well a guess of all kinds of shoppers explains what a line sold at either price."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.kind_odds import SoldDays, kind_odds
from shrinkwise.shelf.kind_days import KindDays

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVELS = np.linspace(-0.9, 0.9, 31)
"""Logs of what the fitted demand of a weekday is multiplied by."""

LEVEL_SPREAD = 0.5
"""Prior standard deviation of these, wide: the fit has taken what the kinds do for the weekday's,
and must not speak against them."""

ALPHAS = (0.01, 0.02, 0.035, 0.06, 0.1, 0.16)
RATE_STEP = 0.15

SLIP = 0.01
"""Probability that a day's log is a slip of the pen and says nothing; then all sales that the
shelf allows are as likely."""


@dataclass(frozen=True)
class Guess:
    """Kinds of shoppers.

    Attributes
    ----------
    oldest, fussy, switching : float
        Shares of the ordinary shoppers.
    uplift : float
        Bargain shoppers as a multiple of the ordinary ones, at the present reduction; they grow
        with its depth.
    until_day : int
        Last day on shelf on which fussy shoppers take a unit.
    """

    oldest: float
    fussy: float = 0.0
    switching: float = 0.0
    uplift: float = 0.0
    until_day: int = 1


@dataclass(frozen=True)
class KindLikelihood:
    """Of the days of one line.

    Attributes
    ----------
    days : KindDays
    prices : bool
        Days that begin with reduced units are looked at; else they are left out.
    alpha : float
        Dispersion of the demand.
    level : array of float, shape (7,)
        What the fitted demand of each weekday is multiplied by, for the bargain shoppers.
    """

    days: KindDays
    prices: bool
    alpha: float
    level: Floats

    @classmethod
    def fitted(cls, days: KindDays) -> "KindLikelihood":
        """With the dispersion and the levels of the fitted demand."""
        return cls(days, days.is_told, days.alpha, np.ones(7))

    def tuned(self, guess: Guess) -> "KindLikelihood":
        """The same with the levels, and the dispersion that explains the sales best, under a guess:
        the fit took what an empty or an old shelf evens out for a steady demand.

        Parameters
        ----------
        guess : Guess

        Returns
        -------
        KindLikelihood
            Its dispersion is one of `ALPHAS`.
        """
        level = self.of(guess)[1]
        tried = [replace(self, alpha=alpha, level=level) for alpha in ALPHAS]
        return max(tried, key=lambda one: one.of(guess)[0])

    def of(self, guess: Guess) -> tuple[float, Floats]:
        """How well a guess explains the sales, the level of each weekday integrated out.

        Parameters
        ----------
        guess : Guess

        Returns
        -------
        log_likelihood : float
        level : array of float, shape (7,)
            What the fitted demand of each weekday is multiplied by, expected under the guess.
        """
        days = self._telling_until(guess.until_day)
        fits = days.fits(guess) + days.settled
        top = fits.max(axis=1, keepdims=True)
        likely = np.exp(fits - top)
        total = likely.sum(axis=1, keepdims=True)
        return float((top + np.log(total)).sum()), likely / total @ np.exp(LEVELS)

    def _telling_until(self, until_day: int) -> "_TellingDays":
        """What of the days tells kinds apart whose fussy shoppers take units until a day."""
        known = self._telling_days
        if until_day not in known:
            young = self.days.young(until_day)[self._kept]
            apart = (self._sold.reduced_there > 0) | (self._sold.full >= young)
            # with young units left and none reduced, all shoppers buy, whoever they are
            same = self._days(~apart, young, np.zeros((7, len(LEVELS))))
            prior = -0.5 * (LEVELS / LEVEL_SPREAD) ** 2
            known[until_day] = self._days(apart, young, same.fits(Guess(1.0)) + prior)
        return known[until_day]

    def _days(self, which: NDArray[np.bool_], young: Ints, settled: Floats) -> "_TellingDays":
        return _TellingDays(
            sold=SoldDays(*(np.ascontiguousarray(one[which]) for one in self._sold)),
            young=young[which],
            bargains=self._bargains[which],
            of_weekday=np.arange(7)[:, None] == self.days.weekday[self._kept][which],
            rates=self._rates,
            mix=self._mix[which],
            settled=settled,
        )

    @cached_property
    def _telling_days(self) -> dict[int, "_TellingDays"]:
        return {}

    @cached_property
    def _kept(self) -> NDArray[np.bool_]:
        days = self.days
        agrees = days.sold_reduced <= days.reduced_there
        return days.usable & (agrees if self.prices else days.reduced_there == 0)

    @cached_property
    def _bargains(self) -> Floats:
        days = self.days
        return np.asarray((days.depth * days.expected * self.level[days.weekday])[self._kept])

    @cached_property
    def _sold(self) -> SoldDays:
        days, kept = self.days, self._kept
        reduced = days.sold_reduced if self.prices else np.zeros(len(days.sold), np.int64)
        full, there = days.sold - reduced, np.minimum(days.reduced_there, days.there)
        full_there = np.maximum(days.there - there, full)
        return SoldDays(
            *(np.ascontiguousarray(one[kept]) for one in (full, reduced, full_there, there))
        )

    @cached_property
    def _rates(self) -> Floats:
        expected = self.days.expected[self._kept]
        low, high = np.log(0.3 * expected.min()), np.log(3 * expected.max())
        step = min(RATE_STEP, 0.9 / np.sqrt(expected.max()))
        return np.exp(np.linspace(low, high, int(np.ceil((high - low) / step)) + 1))

    @cached_property
    def _mix(self) -> Floats:
        """Probability of each rate by day and level, shape (n_days, n_levels, n_rates): the rate
        of a day is Gamma distributed round its mean, so that demand is negative binomial."""
        size = 1 / self.alpha
        mean = self.days.expected[self._kept][:, None, None] * np.exp(LEVELS)[:, None]
        # of the log of the rate, whose grid is even
        log_mix = size * (np.log(self._rates) - np.log(mean) - self._rates / mean)
        mix = np.exp(log_mix - log_mix.max(axis=2, keepdims=True))
        return np.asarray(mix / mix.sum(axis=2, keepdims=True))


@dataclass(frozen=True)
class _TellingDays:
    """Days that tell kinds of shoppers apart.

    Attributes
    ----------
    sold : SoldDays
    young : array of int, shape (n_days,)
        Units in the morning that fussy shoppers take.
    bargains : array of float, shape (n_days,)
        Mean bargain shoppers, were there one for each ordinary one at the present reduction
        [units per day].
    of_weekday : array of bool, shape (7, n_days)
    rates : array of float, shape (n_rates,)
    mix : array of float, shape (n_days, n_levels, n_rates)
        Probability of each rate.
    settled : array of float, shape (7, n_levels)
        Log likelihood of each weekday's levels by all other days.
    """

    sold: SoldDays
    young: Ints
    bargains: Floats
    of_weekday: NDArray[np.bool_]
    rates: Floats
    mix: Floats
    settled: Floats

    def fits(self, guess: Guess) -> Floats:
        """Log likelihood of each weekday's levels by these days, shape (7, n_levels)."""
        shares = guess.oldest, guess.fussy, guess.switching
        bargains = guess.uplift * self.bargains
        odds = kind_odds(self.sold, self.young, self.rates, shares, bargains)
        chance = np.matmul(self.mix, odds[:, :, None])[:, :, 0]
        nothing = 1 / ((self.sold.full_there + 1) * (self.sold.reduced_there + 1))
        chance = (1 - SLIP) * chance + SLIP * nothing[:, None]
        return np.asarray(self.of_weekday @ np.log(chance))
