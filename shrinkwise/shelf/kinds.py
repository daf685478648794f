"""The kinds of a line's shoppers, each with an interval, or the reason why it is left out."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.shelf.kind_grid import GridPosterior
from shrinkwise.shelf.share import SharePosterior

Floats = NDArray[np.float64]


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
    until_day : int or None
        Last day on shelf on which fussy shoppers take a unit; None without them.
    """

    fussy: Floats
    switching: Floats
    uplift: Floats
    factor: Floats
    until_day: int | None


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
    depth : float or None
        The present reduction as a share of the price; None for a line that is never reduced.
    share : SharePosterior or None
        The oldest-first share beside the kinds that play; None where none does.
    of_fussy, of_reduced : GridPosterior or None
        What the draws are from: share and limit day; share that takes reduced units first, and
        uplift.
    """

    fussy: Estimate
    switching: Estimate
    bargain: Estimate
    until_day: int | None = None
    depth: float | None = None
    share: SharePosterior | None = None
    of_fussy: GridPosterior | None = None
    of_reduced: GridPosterior | None = None

    @property
    def play(self) -> bool:
        """Any of the kinds is in the futures."""
        return any(one.plays for one in (self.fussy, self.switching, self.bargain))

    def draws(self, shares: Floats, rng: np.random.Generator) -> DrawnKinds:
        """Kinds for each path, beside its oldest-first share.

        Parameters
        ----------
        shares : array of float, shape (n_paths,)
        rng : numpy.random.Generator
        """
        n, rest = len(shares), np.maximum(1 - shares, 1e-6)
        fussy, switching, uplift = np.zeros((3, n))
        factor = np.ones((7, n))
        if self.fussy.plays and self.of_fussy is not None:
            one = self.of_fussy.where(self.of_fussy.values[:, 1] == self.until_day)
            cell = one.picked(n, rng)
            fussy = one.values[cell, 0]
            factor = factor * one.factor[cell].T
        if (self.switching.plays or self.bargain.plays) and self.of_reduced is not None:
            one = self.of_reduced
            if not self.bargain.plays:
                one = one.where(one.values[:, 1] == one.values[:, 1].min())
            cell = one.picked(n, rng)
            if self.switching.plays:
                switching = np.maximum(one.values[cell, 0] - shares, 0.0)
            if self.bargain.plays:
                uplift = one.values[cell, 1]
            factor = factor * one.factor[cell].T
        of_rest = np.minimum(fussy / rest, 1.0)
        until = self.until_day if self.fussy.plays else None
        return DrawnKinds(of_rest, np.minimum(switching / rest, 1 - of_rest), uplift, factor, until)
