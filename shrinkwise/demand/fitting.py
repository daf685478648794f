"""Lines fitted together: each with what the others say of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.effects import Effect, central, covariance
from shrinkwise.demand.line import LineDays, LineDemand, fit_line
from shrinkwise.demand.pooling import Grouping, LinePrior, lone_prior, pooled_priors
from shrinkwise.demand.same_weekday import SameWeekday, foresaw_better
from shrinkwise.demand.week_ahead import WeekAhead, dispersion, look_back
from shrinkwise.progress import Progress, no_progress, on_all_cores

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Fitted:
    """One line, fitted among others.

    Attributes
    ----------
    line : LineDemand
        Its dispersion is that of past errors a week ahead, where there are enough; where these
        are larger than those of a simpler rule, that is its demand to come.
    prior : LinePrior
        What the other lines say of it.
    ahead : WeekAhead
    """

    line: LineDemand
    prior: LinePrior
    ahead: WeekAhead


def groupings(
    layout: tuple[Effect, ...], category: Sequence[str], store: Sequence[str]
) -> tuple[list[Grouping], Floats]:
    """The groups on which lines share effects, and the covariance of a line's own part.

    Parameters
    ----------
    layout : tuple of Effect
    category, store : sequence of str
        Of each line.
    """
    everywhere = covariance(layout, "everywhere")
    of_category, of_store = (
        np.unique(names, return_inverse=True)[1] for names in (category, store)
    )
    groups = [Grouping(of_category, covariance(layout, "category"))]
    if len(set(store)) == 1:
        # one store: what it adds cannot be told from what holds everywhere
        groups.append(Grouping(of_store, everywhere + covariance(layout, "store")))
    else:
        groups.append(Grouping(of_store, covariance(layout, "store")))
        groups.append(Grouping(np.zeros(len(category), np.int64), everywhere))
    return groups, covariance(layout, "line")


def fit_together(
    days: Sequence[LineDays],
    layout: tuple[Effect, ...],
    groups: list[Grouping],
    own: Floats,
    near: Sequence[LineDemand | None] | None = None,
    progress: Progress = no_progress,
) -> list[Fitted | None]:
    """Fit every line by itself, tell each what the others say, and fit it again.

    Parameters
    ----------
    days : sequence of LineDays
    layout : tuple of Effect
    groups : list of Grouping
    own : array of float, shape (n_effects, n_effects)
    near : sequence of LineDemand or None, optional
        Fits to much the same days, from which those of the lines are found sooner.
    progress : callable, optional
        Called once for each line that is done.

    Returns
    -------
    list of Fitted or None
        None for a line whose days follow no pattern.
    """
    mean = central(layout)
    lone = lone_prior(mean, groups, own)
    hints = [None] * len(days) if near is None else near

    def alone(at: int) -> tuple[LineDemand, Floats, Floats] | None:
        try:
            line = fit_line(days[at], lone, hints[at])
        except ArithmeticError:
            return None
        likelihood = days[at].likelihood(lone)
        information = likelihood.information(line.params)[:-1, :-1]
        slope = likelihood.effects.T @ (likelihood.weights * likelihood.slopes(line.params)[0])
        return line, information, information @ line.params[:-1] + slope

    found = on_all_cores(alone, range(len(days)), no_progress)
    told = [at for at, one in enumerate(found) if one is not None]
    if not told:
        return [None] * len(days)
    kept = [replace(one, group=_renumbered(one.group[told])) for one in groups]
    firsts = [one for one in found if one is not None]
    information = np.stack([one[1] for one in firsts])
    pull = np.stack([one[2] for one in firsts])
    priors = dict(zip(told, pooled_priors(information, pull, mean, kept, own), strict=True))
    first_fits = dict(zip(told, (one[0] for one in firsts), strict=True))

    def among_others(at: int) -> Fitted | None:
        if at not in priors:
            return None
        try:
            line = fit_line(days[at], priors[at], first_fits[at])
        except ArithmeticError:
            return None
        ahead = look_back(days[at], priors[at], line.params)
        line = by_errors(line, days[at], ahead)
        return Fitted(by_what_foresaw_better(line, days[at], ahead), priors[at], ahead)

    return on_all_cores(among_others, range(len(days)), progress)


def by_errors(line: LineDemand, days: LineDays, ahead: WeekAhead) -> LineDemand:
    """The line with the dispersion of its past errors a week ahead, where there are enough."""
    found = dispersion(days, ahead)
    if found is None:
        return line
    params, spread = line.params.copy(), line.covariance.copy()
    params[-1] = found[0]
    spread[-1], spread[:, -1] = 0.0, 0.0
    spread[-1, -1] = found[1] ** 2
    return replace(line, params=params, covariance=spread)


def by_what_foresaw_better(line: LineDemand, days: LineDays, ahead: WeekAhead) -> LineDemand:
    """The line with the demand of its last same weekdays, where they foresaw the past weeks
    clearly better."""
    alpha = (1 + np.exp(line.params[-1])) * (1 + ahead.variance) - 1
    mean = np.exp(ahead.log_mean)
    if not foresaw_better(days.sold, days.floor, days.usable, ahead.day, mean, alpha):
        return line
    return replace(line, recent=SameWeekday.of(days.sold, days.usable, days.weekday))


def _renumbered(group: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.unique(group, return_inverse=True)[1].astype(np.int64)
