"""What was learned of all lines at once: they share effects, so that they are wrong together."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from threadpoolctl import threadpool_limits

from shrinkwise.demand.effects import central
from shrinkwise.demand.fitting import groupings
from shrinkwise.demand.hours import hours_of_sale
from shrinkwise.demand.line import LineDays, LineDemand
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.paths import INTERVAL
from shrinkwise.demand.pooling import Grouping, LinePrior, joint_covariance, lone_prior
from shrinkwise.demand.seen import seen_days
from shrinkwise.records.tables import Records

Floats = NDArray[np.float64]

WEIGHED_DAYS = 28
"""Last days of the records whose expected demand weighs the lines."""

WIDTH = float(ndtri(INTERVAL[1]))
"""Standard deviations from the middle to an end of the 90% interval."""


@dataclass(frozen=True)
class Sums:
    """Sums of effects of every line, normal.

    Attributes
    ----------
    mean : array of float, shape (n_sums, n_lines)
    covariance : array of float, shape (n_sums, n_lines, n_lines)
    """

    mean: Floats
    covariance: Floats

    def of_lines(self, at: int, weights: Floats) -> tuple[float, float]:
        """Log of what a sum does to the demand of several lines together, and its standard
        deviation.

        The demand of each is multiplied by the exponential of its sum. The deviation is that of
        the first order round the mean (the delta method), with all covariances of the lines.

        Parameters
        ----------
        at : int
            Which sum.
        weights : array of float, shape (n_lines,)
            Demand of each line; 0 leaves it out.
        """
        part = weights * np.exp(self.mean[at])
        slope = part / part.sum()
        log_factor = float(np.log(part.sum() / weights.sum()))
        return log_factor, float(np.sqrt(slope @ self.covariance[at] @ slope))


@dataclass(frozen=True)
class LinesTogether:
    """The fitted lines with their days, and the doubt about them that they share.

    Attributes
    ----------
    names, categories : tuple of str
    days : tuple of LineDays
        Of each line.
    demand : array of float, shape (n_lines,)
        Expected over the last days of the records [units per day].
    params : array of float, shape (n_lines, n_effects)
    information : array of float, shape (n_lines, n_effects, n_effects)
        What the days of a line alone say of its effects.
    """

    model: DemandModel
    names: tuple[str, ...]
    categories: tuple[str, ...]
    days: tuple[LineDays, ...]
    demand: Floats
    params: Floats
    information: Floats

    @classmethod
    def of(cls, records: Records, model: DemandModel) -> "LinesTogether":
        """The lines of a model that `fit_demand` made of these records."""
        calendar, names = model.calendar, tuple(model.lines)
        hours = hours_of_sale(records, model.ledgers)
        last = [calendar.origin - timedelta(days=back) for back in range(WEIGHED_DAYS)]
        return cls(
            model=model,
            names=names,
            categories=tuple(calendar.store.line(name).category for name in names),
            days=tuple(
                seen_days(records, calendar, model.ledgers[name], hours[name]) for name in names
            ),
            demand=np.array([model.expected(name, last).mean() for name in names]),
            params=np.stack([model.lines[name].params[:-1] for name in names]),
            information=np.stack([told(model.lines[name], model.priors[name]) for name in names]),
        )

    def columns(self, kinds: Iterable[str]) -> NDArray[np.bool_]:
        """Which effects are of these kinds, shape (n_effects,)."""
        wanted = set(kinds)
        return np.array([one.kind in wanted for one in self.model.calendar.layout])

    def column(self, name: str) -> int:
        """Where the effect of this name stands."""
        return [one.name for one in self.model.calendar.layout].index(name)

    def sums(self, asked: Floats) -> Sums:
        """Sums of effects, with what is not known of them.

        Parameters
        ----------
        asked : array of float, shape (n_sums, n_lines, n_effects)
            What each effect counts.
        """
        mean = np.einsum("kli,li->kl", asked, self.params)
        return Sums(mean, self._covariance(self.information, asked))

    def sums_before(self, asked: Floats) -> Sums:
        """The same before any day of the records was heard: what is assumed."""
        assumed = asked @ central(self.model.calendar.layout)
        return Sums(assumed, self._covariance(np.zeros_like(self.information), asked))

    def prior_of_its_own(self, line: int, kinds: Iterable[str]) -> LinePrior:
        """What other lines say of a line, but for effects of these kinds, of which it is as if no
        other line told anything.

        Parameters
        ----------
        line : int
        kinds : iterable of str
        """
        apart = self.columns(kinds)
        pooled, layout = self.model.priors[self.names[line]], self.model.calendar.layout
        groups, own = self._groupings()
        alone = lone_prior(central(layout), groups, own)
        same = apart[:, None] == apart[None, :]
        covariance = np.where(apart[:, None], alone.covariance, pooled.covariance)
        mean = np.where(apart, alone.mean, pooled.mean)
        return LinePrior(mean, np.where(same, covariance, 0.0))

    def _groupings(self) -> tuple[list[Grouping], Floats]:
        layout, store = self.model.calendar.layout, self.model.calendar.store
        return groupings(layout, self.categories, [store.name] * len(self.names))

    def _covariance(self, information: Floats, asked: Floats) -> Floats:
        groups, own = self._groupings()
        with threadpool_limits(limits=1, user_api="blas"):
            return joint_covariance(information, groups, own, asked)


def told(line: LineDemand, prior: LinePrior) -> Floats:
    """What the days of a line alone say of its effects: all that is known but for the prior.

    Parameters
    ----------
    line : LineDemand
    prior : LinePrior
        To which it was fitted.

    Returns
    -------
    array of float, shape (n_effects, n_effects)
    """
    known = np.linalg.inv(line.covariance[:-1, :-1])
    return np.asarray(known - np.linalg.inv(prior.covariance))
