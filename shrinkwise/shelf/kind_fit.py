"""The kinds of one line's shoppers, learned from its logs."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records
from shrinkwise.shelf.bargains import BargainDays
from shrinkwise.shelf.dated import early_by_age, labelled_by_age
from shrinkwise.shelf.fussy import FussyDays, fussy_posterior
from shrinkwise.shelf.kind_days import KindDays
from shrinkwise.shelf.kind_grid import GridPosterior
from shrinkwise.shelf.kind_share import Mix, share_among_kinds
from shrinkwise.shelf.kinds import Estimate, LineKinds
from shrinkwise.shelf.share import GRID, SharePosterior

Floats = NDArray[np.float64]

FIT_SEED = 20_003

SUSPICIOUS = 2.0
"""Standard errors from which a closer look is taken."""

CLEAR = 4.5
"""Log likelihood by which a kind must explain the logs better than its absence: three standard
errors. A kind that is not there is then taken for one on one line in some hundreds."""

CLEAR_ERRORS = 3.0
ROUNDS = 2
"""Times that the oldest-first share and the other kinds are told in turn."""

DRAWS = 4000
NOT_SEEN = "the logs show no sign of them"
NOT_CLEAR = "the logs do not tell them from chance"


@dataclass(frozen=True)
class KindEvidence:
    """What the kinds of one line are told from.

    Attributes
    ----------
    days : KindDays
    alone : SharePosterior
        The oldest-first share, were there no other kinds.
    share : SharePosterior
        The same beside the kinds.
    of_fussy, of_reduced : GridPosterior or None
        None where nothing can be told, or was suspected.
    reason_fussy, reason_reduced : str or None
        Why there is none.
    suspected_fussy, suspected_reduced : bool
    """

    days: KindDays
    alone: SharePosterior
    share: SharePosterior
    of_fussy: GridPosterior | None
    of_reduced: GridPosterior | None
    reason_fussy: str | None
    reason_reduced: str | None
    suspected_fussy: bool
    suspected_reduced: bool

    @property
    def fussy_clear(self) -> bool:
        """The logs tell fussy shoppers from chance."""
        one = self.of_fussy
        if one is None or not self.suspected_fussy:
            return False
        return one.best() - one.best(one.values[:, 0] == 0) > CLEAR

    @property
    def bargain_clear(self) -> bool:
        """The logs tell bargain shoppers from chance."""
        one = self.of_reduced
        if one is None or not self.suspected_reduced:
            return False
        least = one.values[:, 1].min()
        return bool(least > 0 or one.best() - one.best(one.values[:, 1] == 0) > CLEAR)

    @property
    def switching_clear(self) -> bool:
        """The logs tell switching shoppers from chance."""
        one = self.of_reduced
        if one is None or not self.suspected_reduced or not self._share_told:
            return False
        spread = np.hypot(one.sd(0), _sd(self.share))
        return bool(one.mean(0) - self.share.mean > CLEAR_ERRORS * spread)

    @property
    def _share_told(self) -> bool:
        """With all but the first day reduced, nothing tells the oldest-first share apart."""
        line = self.days.ledger.line
        return line.reduce_on_day is not None and line.reduce_on_day > 2

    @property
    def until_day(self) -> int | None:
        """The likeliest limit day of fussy shoppers."""
        one = self.of_fussy
        if one is None:
            return None
        limits = np.unique(one.values[:, 1])
        weights = [one.weights[one.values[:, 1] == limit].sum() for limit in limits]
        return int(limits[int(np.argmax(weights))])

    def kinds(
        self, fussy: bool, bargain: bool, switching: bool, pooled: tuple[bool, bool] = (False, False)
    ) -> LineKinds:
        """The kinds, those in the futures that are named.

        Parameters
        ----------
        fussy, bargain, switching : bool
            Whether each plays.
        pooled : tuple of bool
            Whether other lines stand beside the line's own logs on fussy and bargain shoppers.
        """
        line = self.days.ledger.line
        price = line.reduced_price
        return LineKinds(
            fussy=_estimate(self.of_fussy, 0, self.reason_fussy, fussy, pooled[0]),
            bargain=_estimate(self.of_reduced, 1, self.reason_reduced, bargain, pooled[1]),
            switching=self._switching(switching),
            until_day=self.until_day,
            depth=None if price is None else 1 - price / line.price,
            share=self.share if fussy or bargain or switching else None,
            of_fussy=self.of_fussy,
            of_reduced=self.of_reduced,
        )

    def _switching(self, plays: bool) -> Estimate:
        one = self.of_reduced
        if one is None:
            return Estimate.silent(self.reason_reduced or NOT_SEEN)
        if not self._share_told:
            return Estimate.silent(
                "units are reduced from their second day on, so that who takes the oldest anyway "
                "cannot be told from who switches"
            )
        rng = np.random.default_rng(FIT_SEED)
        drawn = one.values[one.picked(DRAWS, rng), 0] - self.share.draws(DRAWS, rng)
        mean, (low, high) = drawn.clip(0).mean(), np.quantile(drawn.clip(0), (0.05, 0.95))
        return Estimate(float(mean), float(low), float(high), None if plays else NOT_CLEAR)


def _estimate(
    one: GridPosterior | None, part: int, reason: str | None, plays: bool, pooled: bool
) -> Estimate:
    if one is None:
        return Estimate.silent(reason or NOT_SEEN)
    return Estimate(one.mean(part), *one.interval(part), None if plays else NOT_CLEAR, pooled)


def _sd(share: SharePosterior) -> float:
    return float(np.sqrt(share.weights @ (GRID - share.mean) ** 2))


def kind_evidence(
    records: Records,
    ledger: LineLedger,
    demand: DemandModel,
    alone: SharePosterior,
    close_fussy: bool,
    close_reduced: bool,
) -> KindEvidence:
    """What a line's logs say of the kinds of its shoppers.

    Parameters
    ----------
    records : Records
    ledger : LineLedger
        With known bakes.
    demand : DemandModel
    alone : SharePosterior
        Told from its disposals.
    close_fussy, close_reduced : bool
        Take the closer look, which takes a while, also where nothing is suspected.
    """
    days = KindDays.of(ledger, demand, alone.mean)
    young, reduced = FussyDays.of(days), BargainDays(days, days.expected)
    silent_fussy, silent_reduced = _silent_fussy(young), _silent_reduced(records, reduced)
    suspected_fussy = silent_fussy is None and young.suspicion(alone.mean) > SUSPICIOUS
    suspected_reduced = (
        silent_reduced is None and reduced.suspicion(alone.mean, _sd(alone)) > SUSPICIOUS
    )
    found = KindEvidence(
        days=days,
        alone=alone,
        share=alone,
        of_fussy=None,
        of_reduced=None,
        reason_fussy=silent_fussy,
        reason_reduced=silent_reduced,
        suspected_fussy=suspected_fussy,
        suspected_reduced=suspected_reduced,
    )
    return closer(
        records,
        found,
        demand,
        silent_fussy is None and (close_fussy or suspected_fussy),
        silent_reduced is None and (close_reduced or suspected_reduced),
    )


def closer(
    records: Records, found: KindEvidence, demand: DemandModel, fussy: bool, reduced: bool
) -> KindEvidence:
    """The same after a closer look at fussy shoppers, and at those for reduced units."""
    if not fussy and not reduced:
        return found
    ledger, days = found.days.ledger, found.days
    early, labelled = early_by_age(records, ledger), labelled_by_age(records, ledger)
    for _ in range(ROUNDS):
        oldest = found.share.mean
        if fussy:
            found = replace(found, of_fussy=fussy_posterior(FussyDays.of(days), oldest))
        put_off, factor = np.zeros(len(days.sold)), np.ones(7)
        if found.of_fussy is not None and found.until_day is not None and found.fussy_clear:
            short = days.short_of_young(found.until_day, oldest)
            put_off = np.minimum(found.of_fussy.mean(0), 1 - oldest) * short
            factor = found.of_fussy.weights @ found.of_fussy.factor
        wanted = days.expected * factor[days.weekday]
        switching = uplift = 0.0
        if reduced:
            of_reduced = BargainDays(days, wanted * (1 - put_off)).posterior()
            found = replace(found, of_reduced=of_reduced)
            switching, uplift = max(of_reduced.mean(0) - oldest, 0.0), of_reduced.mean(1)
            wanted = wanted * (of_reduced.weights @ of_reduced.factor)[days.weekday]
        if not reduced and not found.fussy_clear:
            break
        mix = Mix(put_off, wanted, switching, uplift)
        share = share_among_kinds(days, mix, early, labelled, found.alone.stock, FIT_SEED)
        found = replace(found, share=share)
        days = KindDays.of(ledger, demand, share.mean)
    return replace(found, days=days)


def _silent_fussy(young: FussyDays) -> str | None:
    if young.days.ledger.line.shelf_life_days == 1:
        return "all units of a life of one day are equally fresh"
    if not young.enough:
        return f"only {int(young.kept.sum())} days without reduced units on the shelf tell of them"
    return None


def _silent_reduced(records: Records, reduced: BargainDays) -> str | None:
    line = reduced.days.ledger.line
    if line.reduce_on_day is None:
        return "the line is never reduced"
    if records.markdowns.is_empty():
        return "there is no markdown log"
    if not reduced.days.is_told:
        return "the sales do not tell which units were reduced"
    if line.reduce_on_day == 1:
        return "all of its units are reduced"
    if not reduced.enough:
        with_reduced, without = int(reduced.with_reduced.sum()), int(reduced.without.sum())
        return (
            f"{with_reduced} days with reduced units on the shelf and {without} without are too few"
        )
    return None
