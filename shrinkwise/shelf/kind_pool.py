"""The kinds of every line's shoppers, those of thin lines held to their category."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.progress import no_progress, on_all_cores
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records
from shrinkwise.shelf.kind_fit import KindEvidence, kind_evidence
from shrinkwise.shelf.kind_posterior import FUSSY, SWITCHING, UPLIFT, KindDraws
from shrinkwise.shelf.kinds import NOT_CLEAR, NOT_SEEN, Estimate, LineKinds
from shrinkwise.shelf.share import SharePosterior

Floats = NDArray[np.float64]

THIN = {FUSSY: 0.08, UPLIFT: 0.15}
"""Standard deviation of a line's own share or uplift above which its logs are thin."""

FEWEST_OTHERS = 2
LEAST_SPREAD = 0.3
"""Spread of a share or uplift between the lines of a category, at least, as a share of it."""


def fit_kinds(
    records: Records, demand: DemandModel, shares: Mapping[str, SharePosterior]
) -> dict[str, LineKinds]:
    """Learn the kinds of every line's shoppers.

    A kind is in the futures where the line's own logs tell it from chance, or, where they are
    thin, where those of two other lines of the category do.

    Parameters
    ----------
    records : Records
    demand : DemandModel
    shares : mapping of str to SharePosterior
        Oldest-first shares of the lines whose disposals tell them, were there no other kinds.

    Returns
    -------
    dict of str to LineKinds
        Of these lines.
    """
    names = list(shares)

    def evidence(name: str) -> KindEvidence:
        return kind_evidence(records, demand.ledgers[name], demand, shares[name])

    found = dict(zip(names, on_all_cores(evidence, names, no_progress), strict=True))
    category = {name: records.profile.line(name).category for name in names}

    def pooled(name: str) -> LineKinds:
        beside = [found[one] for one in names if category[one] == category[name] and one != name]
        others = {kind: [one for one in beside if one.is_clear(kind)] for kind in (FUSSY, UPLIFT)}
        told = {kind: of for kind, of in others.items() if len(of) >= FEWEST_OTHERS}
        own = found[name]
        if own.draws is None and any(own.free[kind - FUSSY] for kind in told):
            own = kind_evidence(records, demand.ledgers[name], demand, shares[name], close=True)
        return line_kinds(own, told)

    return dict(zip(names, on_all_cores(pooled, names, no_progress), strict=True))


def line_kinds(own: KindEvidence, beside: Mapping[int, list[KindEvidence]]) -> LineKinds:
    """The kinds of a line by its own evidence and that of others of its category.

    Parameters
    ----------
    own : KindEvidence
    beside : mapping of int to list of KindEvidence
        By kind, other lines whose logs tell it.

    Returns
    -------
    LineKinds
        The oldest-first share stands in it where some other kind plays.
    """
    reasons = {
        FUSSY: own.reason_fussy,
        SWITCHING: own.reason_reduced,
        UPLIFT: own.reason_reduced,
    }
    if own.draws is None:
        silent = [Estimate.silent(reason or NOT_SEEN) for reason in reasons.values()]
        return LineKinds(silent[0], silent[1], silent[2])
    draws = own.draws
    priors = {
        kind: _prior([_told(one, kind) for one in of], _scale(own, kind))
        for kind, of in beside.items()
        if own.free[kind - FUSSY] and draws.sd(kind) > THIN[kind]
    }

    def held(draws: KindDraws) -> KindDraws:
        for kind, (mean, sd) in priors.items():
            draws = draws.held_to(kind, mean, sd)
        return draws

    draws = held(draws)
    plays = {kind: own.is_clear(kind) or kind in priors for kind in reasons}
    fussy, switching, bargain = (
        _estimate(draws, kind, reason, plays[kind], kind in priors)
        for kind, reason in reasons.items()
    )
    until = draws.limit_day() if reasons[FUSSY] is None else None
    free = plays[FUSSY], plays[SWITCHING], plays[UPLIFT]
    possible = draws
    if not any(free):
        return LineKinds(fussy, switching, bargain, until, possible=possible)
    if free != own.free:
        draws = held(own.with_only(free))
    return LineKinds(fussy, switching, bargain, until, draws.share(own.share), draws, possible)


def closer_look(
    records: Records,
    ledger: LineLedger,
    demand: DemandModel,
    share: SharePosterior,
    kinds: LineKinds,
) -> LineKinds:
    """How many there may be of other shoppers of a line that is reduced, also where its logs show
    no sign of them; the futures of its plan stay as they are.

    Parameters
    ----------
    records : Records
    ledger : LineLedger
    demand : DemandModel
    share : SharePosterior
        The line's oldest-first share.
    kinds : LineKinds
        As `fit_kinds` has them.

    Returns
    -------
    LineKinds
        With what is possible, and no kind that plays; `kinds` as they are where the logs show
        bargain shoppers, or cannot.
    """
    if kinds.bargain.reason != NOT_SEEN:
        return kinds
    found = kind_evidence(records, ledger, demand, share, close=True)
    return line_kinds(found, {}).left_out()


def _estimate(
    draws: KindDraws, kind: int, reason: str | None, plays: bool, pooled: bool
) -> Estimate:
    if reason is not None:
        return Estimate.silent(reason)
    low, high = draws.quantile(kind, 0.05), draws.quantile(kind, 0.95)
    return Estimate(draws.mean(kind), low, high, None if plays else NOT_CLEAR, pooled)


def _scale(one: KindEvidence, kind: int) -> float:
    """Bargain shoppers are taken to grow with the depth of the reduction, as a share of the
    price."""
    line = one.likelihood.days.ledger.line
    return 1 - line.reduced_price / line.price if kind == UPLIFT and line.reduced_price else 1.0


def _told(one: KindEvidence, kind: int) -> tuple[float, float]:
    assert one.draws is not None
    by = _scale(one, kind)
    return one.draws.mean(kind) / by, one.draws.sd(kind) / by


def _prior(told: list[tuple[float, float]], scale: float) -> tuple[float, float]:
    """Mean and standard deviation of a line of the category (random effects by the method of
    moments; R. DerSimonian, N. Laird, Controlled Clinical Trials 7(3), 1986,
    doi 10.1016/0197-2456(86)90046-2)."""
    mean, sd = np.array(told).T
    weight = 1 / np.maximum(sd, 1e-3) ** 2
    middle = (weight @ mean) / weight.sum()
    excess = weight @ (mean - middle) ** 2 - (len(mean) - 1)
    between = max(excess / (weight.sum() - (weight @ weight) / weight.sum()), 0.0)
    spread = max(np.sqrt(between), LEAST_SPREAD * middle)
    weight = 1 / (np.maximum(sd, 1e-3) ** 2 + spread**2)
    middle = (weight @ mean) / weight.sum()
    return float(scale * middle), float(scale * np.hypot(spread, 1 / np.sqrt(weight.sum())))
