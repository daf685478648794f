"""What was learned of the demand of one line, and how it is learned from its days."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.censored import CensoredNegativeBinomial
from shrinkwise.demand.pooling import LinePrior
from shrinkwise.demand.same_weekday import SameWeekday
from shrinkwise.engine.policy import largest_level
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.on_sale import ended_text, last_seen
from shrinkwise.records.single_orders import single_orders

Floats = NDArray[np.float64]

DISPERSION_PRIOR = (np.log(0.08), 0.8)
"""Normal prior of log(alpha): three open bakery data sets show 0.05 to 0.13 above 5 a day."""

FEWEST_DAYS = 7
"""Open days with the line on sale below which no demand is fitted."""

LARGE_DAY = 0.9
"""Quantile of the units on the shelf by day that is held against what can be planned."""

LEAST_MEAN = 0.02
"""Mean [units per day] from which the fit of a line begins that hardly sold."""

MEMORY_WEEKS = 39
"""Age at which a day counts half. Chosen on the 52 weeks before the last 26 of an open data set
of 25 bakery stores: 26 and 52 weeks were worse by less than 1%."""


HELD_SPREAD = 0.5
"""Standard deviation of the log of a weekday's demand round what was sold, where every day of it
sold out (common practice, no source: who sells out on every day bakes less than is wanted, but
hardly less than a third of it)."""


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
        Coefficients of the calendar's effects on the log mean and, last, log(alpha).
    covariance : array of float, shape (n_effects + 1, n_effects + 1)
    reconstructions : tuple of Reconstruction
        Where the bakes are not logged: the ways in which the shelf may have gone, each as likely
        as the others. `params` is then their mean, and `covariance` holds their differences too.
    recent : SameWeekday or None
        The demand to come, where the last days of each weekday have foreseen it better than the
        regression; that stands for the past all the same.
    from_below : bool
        It sold out on every day, so that the demand is only known to be at least so much.
    """

    params: Floats
    covariance: Floats
    reconstructions: tuple[Reconstruction, ...] = ()
    recent: SameWeekday | None = None
    from_below: bool = False

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


@dataclass(frozen=True)
class LineDays:
    """The days of a line, the last one being the last of the records.

    Attributes
    ----------
    sold : array of int, shape (n_days,)
        Units.
    floor : array of bool, shape (n_days,)
        Sold out.
    usable : array of bool, shape (n_days,)
        Says something of the demand.
    effects : array of float, shape (n_days, n_effects)
    came : array of float, shape (n_days,)
        Share of the day's demand that had come when it sold out, where the hours tell; else 1.
    held : array of float, shape (7,)
        Log of the mean sales of weekdays of which every day sold out; nan for others.
    """

    sold: NDArray[np.int64]
    floor: NDArray[np.bool_]
    usable: NDArray[np.bool_]
    effects: Floats
    came: Floats
    held: Floats = field(default_factory=lambda: np.full(7, np.nan))

    @classmethod
    def of(cls, ledger: LineLedger, effects: Floats, until: Floats) -> "LineDays":
        """The days of a ledger with their effects, and when their last sales were (see
        `last_sale_shares`)."""
        sold, sold_out = np.maximum(ledger.sold, 0), ledger.sold_out
        timed = sold_out & (np.diff(until, axis=1)[:, 0] < 1)
        came = np.where(timed, until.mean(axis=1), 1.0)
        usable, is_told = usable_days(ledger), ~sold_out | timed
        held = np.full(7, np.nan)
        for weekday in range(7):
            of_weekday = usable & (ledger.weekday == weekday)
            if of_weekday.any() and not is_told[of_weekday].any():
                held[weekday] = np.log(max(float(sold[of_weekday].mean()), LEAST_MEAN))
        return cls(sold, sold_out, usable, effects, came, held)

    @property
    def untimed(self) -> NDArray[np.bool_]:
        """Sold out, nobody knows when: the demand was at least the sales."""
        return self.floor & (self.came == 1)

    @property
    def from_below(self) -> bool:
        """Every usable day sold out, nobody knows when."""
        return bool(self.usable.any() and self.untimed[self.usable].all())

    @property
    def weekday(self) -> NDArray[np.int64]:
        """Weekday of each day, Monday 0: the first effects."""
        return self.effects[:, :7].argmax(axis=1)

    def likelihood(self, prior: LinePrior) -> CensoredNegativeBinomial:
        """The regression on the usable days, the old ones counting less; weekdays that tell nothing
        but a floor are held to it."""
        age = len(self.sold) - 1 - np.flatnonzero(self.usable)
        n = len(prior.mean)
        precision = np.zeros((n + 1, n + 1))
        precision[:n, :n] = np.linalg.inv(prior.covariance)
        precision[n, n] = DISPERSION_PRIOR[1] ** -2.0
        mean = np.append(prior.mean, DISPERSION_PRIOR[0])
        held = np.flatnonzero(np.isfinite(self.held))
        if len(held):
            pull = precision @ mean
            pull[held] += self.held[held] / HELD_SPREAD**2
            precision[held, held] += HELD_SPREAD**-2.0
            mean = np.linalg.solve(precision, pull)
        return CensoredNegativeBinomial(
            self.sold[self.usable],
            self.effects[self.usable],
            self.untimed[self.usable],
            mean,
            precision,
            remembered(age),
            self.came[self.usable],
        )


def remembered(age: NDArray[np.integer]) -> Floats:
    """How much days of this age [days] count."""
    return np.asarray(0.5 ** (age / (7 * MEMORY_WEEKS)), np.float64)


def usable_days(ledger: LineLedger) -> NDArray[np.bool_]:
    """Open days; a day with nothing on the shelf from morning on says nothing of the demand, nor
    does a single large order."""
    empty = ledger.sold_out & (ledger.sold <= 0)
    return ledger.is_open & ~empty & ~single_orders(ledger.sold)


def why_no_demand(ledger: LineLedger | None) -> str | None:
    """Why no demand is fitted to a line, None being one that was never seen; None where it is."""
    known = 0 if ledger is None else int(usable_days(ledger).sum())
    if ledger is not None and (last := last_seen(ledger)) is not None:
        return f"{ended_text(last)}; take it out of store.toml, unless it comes back in its season"
    if ledger is None or known < FEWEST_DAYS:
        return f"{known} days on sale in the records; {FEWEST_DAYS} are the least to plan on"
    return too_many_units(ledger)


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


def fit_line(days: LineDays, prior: LinePrior, near: LineDemand | None = None) -> LineDemand:
    """Fit the demand to the days of a line, with sold-out days as floors.

    Parameters
    ----------
    days : LineDays
    prior : LinePrior
    near : LineDemand, optional
        A fit to much the same days, from which this one is found sooner.

    Raises
    ------
    ArithmeticError
        When no maximum is found, or no day says anything.
    """
    if not days.usable.any():
        raise ArithmeticError("no day says anything of the demand")
    hint = None if near is None else (near.params, near.covariance)
    start = np.append(prior.mean, DISPERSION_PRIOR[0])
    usual = np.log(max(float(days.sold[days.usable].mean()), LEAST_MEAN))
    start[:7] += usual - start[:7].mean()
    params, covariance = days.likelihood(prior).fitted(hint, start)
    return LineDemand(params, covariance, from_below=days.from_below)


def _drawn(params: Floats, covariance: Floats, n: int, rng: np.random.Generator) -> Floats:
    return rng.multivariate_normal(params, covariance, size=n, method="cholesky")
