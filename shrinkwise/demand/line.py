"""What was learned of the demand of one line, and how it is learned from its days."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from shrinkwise.demand.calendar import EFFECTS
from shrinkwise.demand.censored import CensoredNegativeBinomial
from shrinkwise.engine.policy import largest_level
from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.ledger import LineLedger

Floats = NDArray[np.float64]

DISPERSION_PRIOR = (np.log(0.08), 0.8)
"""Normal prior of log(alpha): three open bakery data sets show 0.05 to 0.13 above 5 a day."""

LARGE_DAY = 0.9
"""Quantile of the units on the shelf by day that is held against what can be planned."""

_PRIOR_SD = {"trend": 0.25, "holiday": 0.5, "holiday_eve": 0.5, "event": 0.5, "price": 0.7}
_WEEKDAY_SD, _WAVE_SD = 1.0, 0.3
_PRICE_ELASTICITY = -1.0


@dataclass(frozen=True)
class Reconstruction:
    """One way in which the shelf may have gone where the bakes are not logged.

    Attributes
    ----------
    ledger : LineLedger
        With its bakes, stock and sold-out days.
    params : array of float, shape (n_effects + 1,)
    covariance : array of float, shape (n_effects + 1, n_effects + 1)
        Of the demand that is fitted to it.
    """

    ledger: LineLedger
    params: Floats
    covariance: Floats


@dataclass(frozen=True)
class LineDemand:
    """What was learned of one line.

    Attributes
    ----------
    params : array of float, shape (n_effects + 1,)
        Coefficients of `EFFECTS` on the log mean and, last, log(alpha).
    covariance : array of float, shape (n_effects + 1, n_effects + 1)
    reconstructions : tuple of Reconstruction
        Where the bakes are not logged: the ways in which the shelf may have gone, each as likely
        as the others. `params` is then their mean, and `covariance` holds their differences too.
    """

    params: Floats
    covariance: Floats
    reconstructions: tuple[Reconstruction, ...] = ()

    def draws(self, n: int, rng: np.random.Generator) -> Floats:
        """Parameter sets that the records allow, shape (n, n_effects + 1).

        Draw k is of reconstruction k modulo their number, as is all else on path k.
        """
        if not self.reconstructions:
            return _drawn(self.params, self.covariance, n, rng)
        every = len(self.reconstructions)
        drawn = np.empty((n, len(self.params)))
        for first, one in enumerate(self.reconstructions):
            part = drawn[first::every]
            part[:] = _drawn(one.params, one.covariance, len(part), rng)
        return drawn


def usable_days(ledger: LineLedger) -> NDArray[np.bool_]:
    """Open days; a day with nothing on the shelf from morning on says nothing of the demand."""
    return ledger.is_open & ~(ledger.sold_out & (ledger.sold <= 0))


def too_many_units(ledger: LineLedger) -> str | None:
    """Why a line is too large for a shelf that the engine can play; None where it is not.

    One day in ten may lie beyond the largest level there is: a slip of the pen does no harm.
    """
    line = ledger.line
    there = np.maximum(ledger.on_hand_open + ledger.baked, ledger.sold)[ledger.is_open]
    usual = float(np.quantile(there, LARGE_DAY))
    most = largest_level(line.shelf_life_days, line.batch_step)
    if usual <= most:
        return None
    return (
        f"it has {usual:,.0f} units on the shelf on a day, and {most:,} are the most that can be "
        f"planned at a shelf life of {line.shelf_life_days} days"
    )


def fit_line(ledger: LineLedger, effects: Floats, near: LineDemand | None = None) -> LineDemand:
    """Fit the demand to the days of a ledger, with sold-out days as floors.

    Parameters
    ----------
    ledger : LineLedger
    effects : array of float, shape (n_days, n_effects)
        Columns of `EFFECTS` for every day of the ledger.
    near : LineDemand, optional
        A fit to much the same days, from which this one is found sooner.

    Raises
    ------
    ArithmeticError
        When no maximum is found, or no day says anything.
    """
    usable = usable_days(ledger)
    if not usable.any():
        raise ArithmeticError("no day says anything of the demand")
    sold = np.maximum(ledger.sold[usable], 0)
    floor = ledger.sold_out[usable]
    centre = np.log(max(sold.mean(), 0.02))
    prior_mean = np.array([*(_prior_mean(name, centre) for name in EFFECTS), DISPERSION_PRIOR[0]])
    prior_sd = np.array([*(_prior_sd(name) for name in EFFECTS), DISPERSION_PRIOR[1]])
    named = pd.DataFrame(effects[usable], columns=list(EFFECTS))
    model = CensoredNegativeBinomial(sold, named, floor, prior_mean, prior_sd)
    return LineDemand(*model.fitted(None if near is None else (near.params, near.covariance)))


def _drawn(params: Floats, covariance: Floats, n: int, rng: np.random.Generator) -> Floats:
    return rng.multivariate_normal(params, covariance, size=n, method="cholesky")


def _prior_mean(effect: str, centre: float) -> float:
    if effect in WEEKDAYS:
        return centre
    return _PRICE_ELASTICITY if effect == "price" else 0.0


def _prior_sd(effect: str) -> float:
    return _WEEKDAY_SD if effect in WEEKDAYS else _PRIOR_SD.get(effect, _WAVE_SD)
