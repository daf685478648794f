"""The kinds of every line's shoppers, those of thin lines held to their category."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.tables import Records
from shrinkwise.shelf.kind_fit import KindEvidence, closer, kind_evidence
from shrinkwise.shelf.kind_grid import GridPosterior
from shrinkwise.shelf.kinds import Estimate, LineKinds
from shrinkwise.shelf.share import SharePosterior

Floats = NDArray[np.float64]

THIN_SHARE, THIN_UPLIFT = 0.08, 0.15
"""Standard deviations of a line's own fussy share and uplift above which its logs are thin."""

FEWEST_OTHERS = 2
LEAST_SPREAD = 0.3
"""Spread of a share or uplift between the lines of a category, at least, as a share of it."""


def fit_kinds(
    records: Records,
    demand: DemandModel,
    shares: Mapping[str, SharePosterior],
    cannot_tell: Mapping[str, str],
    close: bool = False,
    progress: Progress = no_progress,
) -> dict[str, LineKinds]:
    """Learn the kinds of every line's shoppers.

    A kind is in the futures where the line's own logs tell it from chance, or, where they are
    thin, where those of two other lines of the category do.

    Parameters
    ----------
    records : Records
    demand : DemandModel
    shares : mapping of str to SharePosterior
        Oldest-first shares, were there no other kinds.
    cannot_tell : mapping of str to str
        Lines whose logs do not tell these, with the reason.
    close : bool
        Tell an interval also where nothing is suspected, which takes a while and changes nothing
        of what is in the futures.
    progress : callable, optional
        Called once for each line that is done.

    Returns
    -------
    dict of str to LineKinds
        Of every line with a demand.
    """
    names = [name for name in demand.lines if name not in cannot_tell]
    found = dict(
        zip(
            names,
            on_all_cores(
                lambda name: kind_evidence(
                    records, demand.ledgers[name], demand, shares[name], close, close
                ),
                names,
                progress,
            ),
            strict=True,
        )
    )
    category = {name: records.profile.line(name).category for name in names}
    kinds = {}
    for name in demand.lines:
        if name in cannot_tell:
            silent = Estimate.silent(cannot_tell[name])
            kinds[name] = LineKinds(silent, silent, silent)
            continue
        beside = [found[one] for one in names if category[one] == category[name] and one != name]
        kinds[name] = _pooled(records, demand, found[name], beside)
    return kinds


def _pooled(
    records: Records, demand: DemandModel, own: KindEvidence, beside: list[KindEvidence]
) -> LineKinds:
    fussy = [one for one in beside if one.fussy_clear]
    bargain = [one for one in beside if one.bargain_clear]
    by_fussy, by_bargain = len(fussy) >= FEWEST_OTHERS, len(bargain) >= FEWEST_OTHERS
    own = closer(
        records,
        own,
        demand,
        by_fussy and own.reason_fussy is None and own.of_fussy is None,
        by_bargain and own.reason_reduced is None and own.of_reduced is None,
    )
    plays_fussy, plays_bargain = own.fussy_clear, own.bargain_clear
    pooled_fussy = pooled_bargain = False
    if by_fussy and own.of_fussy is not None and own.of_fussy.sd(0) > THIN_SHARE:
        prior = _prior([(one.of_fussy, 0, 1.0) for one in fussy])
        own = replace(own, of_fussy=_held(own.of_fussy, 0, *prior))
        plays_fussy = pooled_fussy = True
    if by_bargain and own.of_reduced is not None and own.of_reduced.sd(1) > THIN_UPLIFT:
        # bargain shoppers are taken to grow with the depth of the reduction
        prior = _prior([(one.of_reduced, 1, _depth(one)) for one in bargain])
        scaled = prior[0] * _depth(own), prior[1] * _depth(own)
        own = replace(own, of_reduced=_held(own.of_reduced, 1, *scaled))
        plays_bargain = pooled_bargain = True
    return own.kinds(
        plays_fussy, plays_bargain, own.switching_clear, (pooled_fussy, pooled_bargain)
    )


def _depth(one: KindEvidence) -> float:
    line = one.days.ledger.line
    return 1 - (line.reduced_price or 0.0) / line.price


def _prior(of_lines: list[tuple[GridPosterior | None, int, float]]) -> tuple[float, float]:
    """Mean and standard deviation of a line of the category (random effects by the method of
    moments; R. DerSimonian, N. Laird, Controlled Clinical Trials 7(3), 1986,
    doi 10.1016/0197-2456(86)90046-2)."""
    told = [(one.mean(part) / by, one.sd(part) / by) for one, part, by in of_lines if one]
    mean, sd = np.array(told).T
    weight = 1 / np.maximum(sd, 1e-3) ** 2
    middle = (weight @ mean) / weight.sum()
    excess = weight @ (mean - middle) ** 2 - (len(mean) - 1)
    between = max(excess / (weight.sum() - (weight @ weight) / weight.sum()), 0.0)
    spread = max(np.sqrt(between), LEAST_SPREAD * middle)
    weight = 1 / (np.maximum(sd, 1e-3) ** 2 + spread**2)
    middle = (weight @ mean) / weight.sum()
    return float(middle), float(np.hypot(spread, 1 / np.sqrt(weight.sum())))


def _held(own: GridPosterior, part: int, mean: float, sd: float) -> GridPosterior:
    log_prior = -0.5 * ((own.values[:, part] - mean) / sd) ** 2
    return GridPosterior(own.values, own.log_likelihood, log_prior, own.factor)
