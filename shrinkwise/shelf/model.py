"""The shelf model: what the records say of how each line's shoppers pick."""

from dataclasses import dataclass, field, replace
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.unlogged import shares as middle_shares
from shrinkwise.progress import Progress, no_progress, on_all_cores
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records
from shrinkwise.records.today import Today
from shrinkwise.shelf.dated import Ints, early_by_age
from shrinkwise.shelf.kind_pool import fit_kinds
from shrinkwise.shelf.kinds import DrawnKinds, LineKinds
from shrinkwise.shelf.share import (
    SharePosterior,
    StockPosterior,
    no_evidence,
    share_posterior,
    stock_posterior,
)
from shrinkwise.shelf.today import left_for_tomorrow

FIT_SEED = 20_001

STOCK_DRAWS = 200
"""Splits by age of the units on hand, of which the middle one is taken as the likeliest."""


@dataclass(frozen=True)
class ShelfModel:
    """The oldest-first share of every line with a fitted demand, by name.

    Attributes
    ----------
    lines : dict of str to SharePosterior
    cannot_tell : dict of str to str
        Lines whose records say nothing of the share, each with the reason; every share is then
        held equally likely, and the plan carries that doubt.
    strata : dict of str to int
        Lines whose bakes were reconstructed, each with the number of reconstructions. Every one
        stands for an equal part of the shares, and its paths draw theirs from that part.
    today : dict of str to Today
        Lines whose shelf was counted while the last day of the records was under way.
    lenders : dict of str to tuple of str
        Lines without a history, each with those whose shoppers it borrows, path by path in turn.
    kinds : dict of str to LineKinds
        What the logs say of fussy, switching and bargain shoppers, of every line with a demand.
    """

    lines: dict[str, SharePosterior]
    cannot_tell: dict[str, str]
    strata: dict[str, int] = field(default_factory=dict)
    today: dict[str, Today] = field(default_factory=dict)
    lenders: dict[str, tuple[str, ...]] = field(default_factory=dict)
    kinds: dict[str, LineKinds] = field(default_factory=dict)

    def shares(self, name: str, n: int, seed: int) -> NDArray[np.float64]:
        """Oldest-first shares that the records allow, shape (n,); the same seed, the same."""
        lenders = self.lenders.get(name)
        if lenders is not None:
            drawn = np.stack([self.shares(lender, n, seed) for lender in lenders])
            return np.asarray(drawn[np.arange(n) % len(lenders), np.arange(n)])
        rng = np.random.default_rng([seed, crc32(name.encode())])
        strata = self.strata.get(name)
        if strata is None:
            return self.lines[name].draws(n, rng)
        return (np.arange(n) % strata + rng.random(n)) / strata

    def other_kinds(self, name: str, n: int, seed: int) -> DrawnKinds | None:
        """Fussy, switching and bargain shoppers of each draw of `shares` with the same seed; None
        where the logs tell of none. A line without a history borrows none: who picks out old or
        reduced units of one line need not do so with another."""
        kinds = self.kinds.get(name)
        if kinds is None:
            return None
        rng = np.random.default_rng([seed, crc32(f"{name} other kinds".encode())])
        return kinds.drawn(self.shares(name, n, seed), rng)

    def with_every_kind(self, name: str, kinds: LineKinds) -> "ShelfModel":
        """The same with every kind of a line's shoppers in the futures that may be there, told from
        chance or not.

        Parameters
        ----------
        name : str
            The line.
        kinds : LineKinds
            As a closer look has them.
        """
        every = kinds.with_every_kind(self.lines[name])
        share = every.share or self.lines[name]
        lines, of_lines = self.lines | {name: share}, self.kinds | {name: every}
        return replace(self, lines=lines, kinds=of_lines)

    def stock_by_age(
        self, name: str, n: int, seed: int, late: NDArray[np.integer] | None = None
    ) -> NDArray[np.int16]:
        """Units on the shelf on the morning after the last night of the records; where the shelf
        was counted before close, those counted that are not on their last day.

        Draw k belongs to draw k of `shares` with the same seed: a stock of the share next to it
        that was followed through the records, and of the same reconstruction where the bakes are
        not logged. Each draw adds up to what the ledger (of its reconstruction) has on hand;
        without a disposal log to at most that, since units out of date left unlogged.

        Parameters
        ----------
        name : str
            The line.
        n : int
        seed : int
            The same seed, the same draws.
        late : array of int, shape (n,), optional
            Units still wanted after a count before close; none when left out.

        Returns
        -------
        array of int16, shape (life, n)
            Units by age; none of age 0, since that morning's bake is not there yet [units].
        """
        rng = np.random.default_rng([seed, crc32(f"{name} on the shelf".encode())])
        shares = self.shares(name, n, seed)
        stock = self.lines[name].stock.draws(shares, rng)
        today = self.today.get(name)
        return stock if today is None else left_for_tomorrow(stock, today, shares, rng, late)

    def likeliest_stock(self, name: str, seed: int) -> NDArray[np.int16]:
        """The middle one of many draws of `stock_by_age`: the nearest to their mean, shape (life,)
        [units]."""
        draws = self.stock_by_age(name, STOCK_DRAWS, seed)
        far = ((draws - draws.mean(axis=1, keepdims=True)) ** 2).sum(axis=0)
        return draws[:, int(far.argmin())]


def fit_shelf(
    records: Records, demand: DemandModel, progress: Progress = no_progress
) -> ShelfModel:
    """Learn each line's oldest-first share from its disposal log, and what other kinds of
    shoppers its logs tell of.

    Parameters
    ----------
    records : Records
    demand : DemandModel
        Fitted to the same records; lines without a demand are left out.
    progress : callable, optional
        Called once for each line that is done.

    Returns
    -------
    ShelfModel
    """
    ledgers = [demand.ledgers[name] for name in demand.lines]
    reasons = {ledger.line.name: _silence(records, ledger) for ledger in ledgers}

    def fit(ledger: LineLedger) -> SharePosterior:
        early = early_by_age(records, ledger)
        if reasons[ledger.line.name] is None:
            return share_posterior(ledger, FIT_SEED, early)
        told = [one.ledger for one in demand.lines[ledger.line.name].reconstructions]
        if told:
            return no_evidence(_stock_of_reconstructions(told, early))
        known = not records.disposals.is_empty()
        return no_evidence(stock_posterior(ledger, FIT_SEED, known, early_by_age=early))

    fitted = on_all_cores(fit, ledgers, progress)
    lines = {ledger.line.name: line for ledger, line in zip(ledgers, fitted, strict=True)}
    told = {name: line for name, line in lines.items() if reasons[name] is None}
    kinds = fit_kinds(records, demand, told)
    return ShelfModel(
        lines=lines | {name: of.share for name, of in kinds.items() if of.share is not None},
        cannot_tell={name: reason for name, reason in reasons.items() if reason is not None},
        strata={
            name: len(line.reconstructions)
            for name, line in demand.lines.items()
            if line.reconstructions
        },
        today={name: demand.today[name] for name in demand.lines if name in demand.today},
        kinds=kinds
        | {name: LineKinds.silent(why) for name, why in reasons.items() if why is not None},
    )


def _stock_of_reconstructions(ledgers: list[LineLedger], early: Ints) -> StockPosterior:
    """Each with the share that its reconstruction took for granted, the middle of its stratum."""
    shares = middle_shares(len(ledgers))
    followed = [
        stock_posterior(ledger, FIT_SEED, True, shares[one : one + 1], early)
        for one, ledger in enumerate(ledgers)
    ]
    return StockPosterior(
        shares=shares,
        units=np.concatenate([one.units for one in followed]),
        weights=np.concatenate([one.weights for one in followed]),
    )


def _silence(records: Records, ledger: LineLedger) -> str | None:
    life = ledger.line.shelf_life_days
    if not ledger.bakes_known:
        return "there is no bakes log for this line"
    if records.disposals.is_empty():
        return "there is no disposal log"
    if len(ledger.sold) <= 2 * life:
        return f"{len(ledger.sold)} days of records are too few"
    return None
