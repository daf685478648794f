"""The kinds of one line's shoppers, learned from its logs."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from shrinkwise.demand.model import DemandModel
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records
from shrinkwise.shelf.dated import early_by_age, labelled_by_age
from shrinkwise.shelf.depth import relative_depth
from shrinkwise.shelf.kind_days import KindDays
from shrinkwise.shelf.kind_likelihood import Guess, KindLikelihood
from shrinkwise.shelf.kind_posterior import (
    FUSSY,
    OLDEST,
    STEPS,
    SWITCHING,
    UPLIFT,
    KindDraws,
    kind_draws,
)
from shrinkwise.shelf.kind_share import Mix, share_among_kinds
from shrinkwise.shelf.kinds import ALL_REDUCED, NO_DAY_SET, TOO_MANY
from shrinkwise.shelf.share import SharePosterior, no_evidence

FIT_SEED = 20_003

FEWEST_DAYS = 20
"""Days with reduced units on the shelf below which nothing is told of who comes for them; of
fussy shoppers nothing is told by less than three times as many days."""

MOST_A_DAY = 300
"""Mean sales [units per day] beyond which nothing is told of kinds: a guess takes as many steps
as there are units, and a closer look some thousands of guesses."""

SUSPICIOUS = 3.0
"""Gain in log likelihood by some other kind from which a closer look is taken."""

FIRST_STEPS = 600
"""Draws before the disposals are asked beside the kinds; they need tell but the middle."""

MIXES = 8
"""Of these draws, for which the disposals are asked."""

FAINT = {FUSSY: 0.03, SWITCHING: 0.03, UPLIFT: 0.05}
DOUBT = 0.02
"""A kind is told from chance where it is more than faint, but for this probability."""

QUANTILES = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class KindEvidence:
    """What the logs of one line say of its shoppers.

    Attributes
    ----------
    likelihood : KindLikelihood
        Of the sales.
    limits : range
        Limit days of fussy shoppers that are possible.
    share : SharePosterior
        The oldest-first share by the disposals, beside the kinds.
    draws : KindDraws or None
        None where no other kind is suspected, or can be told.
    reason_fussy, reason_reduced : str or None
        Why fussy shoppers, and those for reduced units, cannot be told.
    """

    likelihood: KindLikelihood
    limits: range
    share: SharePosterior
    draws: KindDraws | None
    reason_fussy: str | None
    reason_reduced: str | None

    @property
    def free(self) -> tuple[bool, bool, bool]:
        """Whether fussy, switching and bargain shoppers can be told."""
        reduced = self.reason_reduced is None
        return self.reason_fussy is None, reduced, reduced

    def is_clear(self, kind: int) -> bool:
        """The logs tell a kind from chance."""
        told = self.draws is not None and self.free[kind - FUSSY]
        return told and self.draws.quantile(kind, DOUBT) > FAINT[kind]  # type: ignore[union-attr]

    def with_only(self, plays: tuple[bool, bool, bool], steps: int = STEPS) -> KindDraws:
        """Draws, were fussy, switching or bargain shoppers who do not play not there."""
        return kind_draws(
            self.likelihood, self.share, _middle(self), plays, self.limits, FIT_SEED, steps
        )


def kind_evidence(
    records: Records,
    ledger: LineLedger,
    demand: DemandModel,
    alone: SharePosterior,
    close: bool = False,
) -> KindEvidence:
    """What a line's logs say of the kinds of its shoppers.

    Parameters
    ----------
    records : Records
    ledger : LineLedger
        With known bakes.
    demand : DemandModel
        With a demand of the line.
    alone : SharePosterior
        The oldest-first share told from its disposals, were there no other kinds.
    close : bool
        Take the closer look, which takes seconds, also where nothing is suspected.

    Returns
    -------
    KindEvidence
        Without draws where nothing can be told, or no closer look was taken.
    """
    line = ledger.line
    early = early_by_age(records, ledger)
    depth = relative_depth(records, demand.calendar, ledger)
    days = KindDays.of(ledger, demand, early, depth, alone.mean)
    reason_reduced = _silent_reduced(records, days)
    # beside switching shoppers, what was disposed of is first read without a say on the share
    share = alone if reason_reduced else no_evidence(alone.stock)
    found = KindEvidence(
        likelihood=KindLikelihood.fitted(days),
        # who would take no reduced unit at all is the fussiest about age that can be told there
        limits=range(1, line.reduce_on_day or line.shelf_life_days),
        share=share,
        draws=None,
        reason_fussy=_silent_fussy(days),
        reason_reduced=reason_reduced,
    )
    if not any(found.free) or not (close or suspicion(found, alone) > SUSPICIOUS):
        return replace(found, share=alone)
    labelled = labelled_by_age(records, ledger)
    found = _drawn(found, FIRST_STEPS)
    assert found.draws is not None
    # the disposals say something else of the oldest-first share beside these kinds, and how much
    # else depends on what is not known of them
    told = [
        share_among_kinds(days, mix, early, labelled, alone.stock, FIT_SEED)
        for mix in _mixes(days, found.draws)
    ]
    share = SharePosterior(np.mean([one.weights for one in told], axis=0), alone.stock)
    days = KindDays.of(ledger, demand, early, depth, share.mean)
    found = replace(found, share=share, likelihood=KindLikelihood.fitted(days))
    return _drawn(found, STEPS)


def _drawn(found: KindEvidence, steps: int) -> KindEvidence:
    found = replace(found, likelihood=found.likelihood.tuned(_middle(found)))
    return replace(found, draws=found.with_only(found.free, steps))


def suspicion(found: KindEvidence, alone: SharePosterior) -> float:
    """Gain in log likelihood by the best of some guesses with other kinds, over those without,
    which stand at three quantiles of the share told `alone`."""
    without = (Guess(alone.interval(at, at)[0]) for at in QUANTILES)
    oldest, rest = alone.mean, 1 - alone.mean
    guesses = [
        Guess(oldest, fussy=share * rest, until_day=until)
        for until in found.limits
        for share in (0.15, 0.4)
        if found.free[0]
    ]
    if found.free[1]:
        # the disposals take who switches or comes for a bargain for oldest-first shoppers
        guesses += [
            Guess(fewer * oldest, switching=share * rest, uplift=uplift)
            for fewer in (1.0, 0.75)
            for share, uplift in ((0.2, 0.0), (0.0, 0.2), (0.2, 0.6), (0.0, 0.6))
        ]

    def best(of: Iterable[Guess]) -> float:
        return max(found.likelihood.of(guess)[0] for guess in of)

    return best(guesses) - best(without)


def _middle(found: KindEvidence) -> Guess:
    oldest, draws = found.share.mean, found.draws
    if draws is None:
        rest = 1 - oldest
        return Guess(oldest, 0.15 * rest, 0.1 * rest, 0.3, found.limits[-1])
    fussy = min(draws.mean(FUSSY), 0.9 * (1 - oldest))
    switching = draws.mean(OLDEST) + draws.mean(SWITCHING) - oldest
    switching = min(max(switching, 0.0), 0.9 * (1 - oldest - fussy))
    return Guess(oldest, fussy, switching, draws.mean(UPLIFT), draws.limit_day())


def _mixes(days: KindDays, draws: KindDraws) -> list[Mix]:
    wanted = days.expected * (draws.weights @ draws.factor)[days.weekday]
    return [
        Mix(
            put_off=one.fussy * days.short_of_young(one.until_day, one.oldest),
            demand=wanted,
            to_reduced=one.oldest + one.switching,
            uplift=one.uplift,
        )
        for one in draws.guesses(MIXES)
    ]


def _silent_fussy(days: KindDays) -> str | None:
    line = days.ledger.line
    if line.shelf_life_days == 1:
        return "all units of a life of one day are equally fresh"
    if line.reduce_on_day == 1:
        return ALL_REDUCED
    if days.mean_sold > MOST_A_DAY:
        return TOO_MANY
    n = int((days.usable if days.is_told else days.usable & (days.reduced_there == 0)).sum())
    if n < 3 * FEWEST_DAYS:
        return f"only {n} days tell of them"
    return None


def _silent_reduced(records: Records, days: KindDays) -> str | None:
    line = days.ledger.line
    if line.reduce_on_day is None:
        if days.ledger.labelled.any() or days.ledger.sold_reduced.any():
            return NO_DAY_SET
        return "the line is never reduced"
    if line.reduce_on_day == 1:
        return ALL_REDUCED
    if days.mean_sold > MOST_A_DAY:
        return TOO_MANY
    if records.markdowns.is_empty():
        return "there is no markdown log"
    if not days.ledger.labelled.any():
        return "the markdown log has nothing of it"
    if not days.is_told:
        return "the sales do not tell which units were reduced"
    with_reduced = int((days.usable & (days.reduced_there > 0)).sum())
    if with_reduced < FEWEST_DAYS:
        return f"{with_reduced} days with reduced units on the shelf are too few"
    return None
