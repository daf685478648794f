"""The kinds of a line's shoppers, each with an interval, or the reason why it is left out."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.shelf.kind_posterior import FUSSY, OLDEST, SWITCHING, UPLIFT, KindDraws
from shrinkwise.shelf.share import SharePosterior

Floats = NDArray[np.float64]


NOT_SEEN = "the logs show no sign of them"
NOT_CLEAR = "the logs do not tell them from chance"
ALL_REDUCED = "all of its units are reduced"
TOO_MANY = "it sells too many units a day to follow one by one"
NO_DAY_SET = "its reductions are in the logs, but no reduce_on_day is in store.toml"


@dataclass(frozen=True)
class Estimate:
    """What the logs say of one kind.

    Attributes
    ----------
    mean, low, high : float or None
        Expected value with a 90% interval; None where nothing can be told.
    reason : str or None
        Why the kind is left out of the futures; None where it is in them.
    pooled : bool
        The line's own logs are thin, and other lines of its category stand beside them.
    """

    mean: float | None
    low: float | None
    high: float | None
    reason: str | None
    pooled: bool = False

    @classmethod
    def silent(cls, reason: str) -> "Estimate":
        """Nothing can be told."""
        return cls(None, None, None, reason)

    @property
    def plays(self) -> bool:
        """The kind is in the futures."""
        return self.reason is None

    @property
    def asks_for_reductions(self) -> bool:
        """Days with reduced units, and logs of them, would tell more."""
        return self.reason not in (None, ALL_REDUCED, TOO_MANY, NO_DAY_SET)


@dataclass(frozen=True)
class DrawnKinds:
    """Shoppers' kinds of each path; arrays of shape (n_paths,) unless said otherwise.

    Attributes
    ----------
    fussy, switching : array of float
        Shares of the shoppers who are not oldest-first.
    uplift : array of float
        Bargain shoppers as a multiple of the ordinary demand.
    factor : array of float, shape (7, n_paths)
        Ordinary demand over the fitted one by weekday: the fit took the sales of all kinds for
        demand, and what fussy shoppers did not buy for none.
    until_day : int
        Last day on shelf on which fussy shoppers take a unit.
    """

    fussy: Floats
    switching: Floats
    uplift: Floats
    factor: Floats
    until_day: int


@dataclass(frozen=True)
class LineKinds:
    """The kinds of one line beside its oldest-first share.

    Attributes
    ----------
    fussy, switching, bargain : Estimate
        Fussy and switching shoppers as shares of all ordinary shoppers; bargain shoppers per
        ordinary shopper on a day with reduced units on the shelf, at the present reduction.
    until_day : int or None
        The likeliest last day on shelf on which fussy shoppers take a unit; None where nothing
        can be told.
    share : SharePosterior or None
        The oldest-first share beside the kinds that play; None where none does.
    draws : KindDraws or None
        Of the kinds that play.
    possible : KindDraws or None
        Of every kind that the logs could tell, told from chance or not; None where no closer look
        was taken.
    """

    fussy: Estimate
    switching: Estimate
    bargain: Estimate
    until_day: int | None = None
    share: SharePosterior | None = None
    draws: KindDraws | None = None
    possible: KindDraws | None = None

    @classmethod
    def silent(cls, reason: str) -> "LineKinds":
        """Nothing can be told of any."""
        silent = Estimate.silent(reason)
        return cls(silent, silent, silent)

    def with_every_kind(self, stock_of: SharePosterior) -> "LineKinds":
        """The same with all that is possible in the futures, told from chance or not.

        Parameters
        ----------
        stock_of : SharePosterior
            Of the line, with the stock by age.
        """
        if self.possible is None:
            return self
        fussy, switching, bargain = (
            one if one.mean is None else replace(one, reason=None)
            for one in (self.fussy, self.switching, self.bargain)
        )
        share = self.possible.share(stock_of)
        return LineKinds(fussy, switching, bargain, self.until_day, share, self.possible)

    def left_out(self) -> "LineKinds":
        """The same with none in the futures, since the logs show no sign of them."""
        fussy, switching, bargain = (
            one if one.mean is None else replace(one, reason=NOT_SEEN)
            for one in (self.fussy, self.switching, self.bargain)
        )
        return LineKinds(fussy, switching, bargain, self.until_day, possible=self.possible)

    def drawn(self, shares: Floats, rng: np.random.Generator) -> DrawnKinds | None:
        """Kinds for each path, beside its oldest-first share; None where none plays.

        Parameters
        ----------
        shares : array of float, shape (n_paths,)
            Drawn from `share`.
        rng : numpy.random.Generator
        """
        draws = self.draws
        if draws is None:
            return None
        weights = draws.weights
        if self.fussy.plays:
            weights = np.where(draws.until_day == draws.limit_day(), weights, 0)
        picked = rng.choice(len(weights), len(shares), p=weights / weights.sum())
        # a path with a high oldest-first share has the kinds of a draw with a high one
        cell = np.empty(len(shares), np.int64)
        cell[np.argsort(shares)] = picked[np.argsort(draws.values[picked, OLDEST])]
        rest = np.maximum(1 - shares, 1e-6)
        fussy = np.minimum(draws.values[cell, FUSSY] / rest, 1.0)
        switching = np.minimum(draws.values[cell, SWITCHING] / rest, 1 - fussy)
        return DrawnKinds(
            fussy, switching, draws.values[cell, UPLIFT], draws.factor[cell].T, draws.limit_day()
        )
