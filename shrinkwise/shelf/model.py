"""The shelf model: what the records say of how each line's shoppers pick."""

from dataclasses import dataclass
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records
from shrinkwise.shelf.share import GRID, SharePosterior, share_posterior

FIT_SEED = 20_001


@dataclass(frozen=True)
class ShelfModel:
    """The oldest-first share of every line with a fitted demand, by name.

    Attributes
    ----------
    lines : dict of str to SharePosterior
    cannot_tell : dict of str to str
        Lines whose records say nothing of the share, each with the reason; every share is then
        held equally likely, and the plan carries that doubt.
    """

    lines: dict[str, SharePosterior]
    cannot_tell: dict[str, str]

    def shares(self, name: str, n: int, seed: int) -> NDArray[np.float64]:
        """Oldest-first shares that the records allow, shape (n,); the same seed, the same."""
        return self.lines[name].draws(n, np.random.default_rng([seed, crc32(name.encode())]))


def fit_shelf(records: Records, demand: DemandModel) -> ShelfModel:
    """Learn each line's oldest-first share from its disposal log.

    Parameters
    ----------
    records : Records
    demand : DemandModel
        Fitted to the same records; lines without a demand are left out.

    Returns
    -------
    ShelfModel
    """
    fitted: dict[str, SharePosterior] = {}
    cannot_tell: dict[str, str] = {}
    for name in demand.lines:
        ledger = demand.ledgers[name]
        reason = _silence(records, ledger)
        if reason:
            cannot_tell[name] = reason
            fitted[name] = _no_evidence(ledger)
        else:
            fitted[name] = share_posterior(ledger, FIT_SEED)
    return ShelfModel(fitted, cannot_tell)


def _silence(records: Records, ledger: LineLedger) -> str | None:
    life = ledger.line.shelf_life_days
    if life == 1:
        return "with a shelf life of one day all units are equally fresh"
    if ledger.bakes_inferred:
        return "there is no bakes log for this line"
    if records.disposals.is_empty():
        return "there is no disposal log"
    if len(ledger.sold) <= 2 * life:
        return f"{len(ledger.sold)} days of records are too few"
    return None


def _no_evidence(ledger: LineLedger) -> SharePosterior:
    return SharePosterior(
        weights=np.full(len(GRID), 1 / len(GRID)),
        sold_by_age=np.full(ledger.line.shelf_life_days, np.nan),
        disposed=float(ledger.disposed_last_day.sum()),
        baked=float(ledger.baked.sum()),
    )
