"""The oldest-first share where there are fussy, switching and bargain shoppers."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.oldest_odds import oldest_odds
from shrinkwise.records.ledger import LineLedger
from shrinkwise.shelf.kind_days import KindDays
from shrinkwise.shelf.share import SharePosterior, StockPosterior, no_evidence, share_posterior

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Mix:
    """One guess of the kinds beside the oldest-first share.

    Attributes
    ----------
    put_off : array of float, shape (n_days,)
        Share of the ordinary shoppers who went without a fresh unit.
    demand : array of float, shape (n_days,)
        Of ordinary shoppers, those put off included [units per day].
    to_reduced : float
        Share of oldest-first and switching shoppers together.
    uplift : float
        Bargain shoppers as a multiple of the demand, at the present reduction.
    """

    put_off: Floats
    demand: Floats
    to_reduced: float
    uplift: float


def share_among_kinds(
    days: KindDays,
    mix: Mix,
    early_by_age: Ints,
    labelled_by_age: Ints,
    stock: StockPosterior,
    seed: int,
) -> SharePosterior:
    """Weigh every oldest-first share with the other kinds as guessed.

    Where the till tells what was sold reduced, units count as gone on the night before they are
    reduced: who takes them after that says nothing of how shoppers pick among full-price units.

    Parameters
    ----------
    days : KindDays
    mix : Mix
    early_by_age, labelled_by_age : array of int, shape (n_days of the ledger, life)
        As `shrinkwise.shelf.dated` has them [units].
    stock : StockPosterior
        Of the whole shelf.
    seed : int

    Returns
    -------
    SharePosterior
        With `stock`; every share as likely where the full-price units are all of one age.
    """
    told, part = days.is_told, slice(days.first, None)
    ledger = days.ledger
    if told:
        shelf = _at_full_price(days, early_by_age, labelled_by_age)
        known = early_by_age[part, : shelf.line.shelf_life_days][:-1]
    else:
        shelf = replace(ledger, **{name: getattr(ledger, name)[part] for name in _COUNTED})
        known = early_by_age[part]
    if shelf.line.shelf_life_days < 2:
        return no_evidence(stock)
    n = len(shelf.sold)
    reduced_there = days.reduced_there[:n] if told else np.zeros(n, np.int64)
    rates = _rates(days, mix)[:n]

    def oldest(shares: Floats) -> Floats:
        return oldest_odds(
            np.maximum(shelf.sold, 0),
            days.sold_reduced[:n],
            reduced_there,
            rates,
            shares,
            1 - mix.put_off[:n],
            mix.to_reduced,
            mix.uplift * (days.depth * mix.demand)[:n],
        )

    found = share_posterior(shelf, seed, known, oldest)
    return SharePosterior(found.weights, stock)


_COUNTED = ("baked", "sold", "disposed_last_day", "disposed_early", "on_hand_close")


def _rates(days: KindDays, mix: Mix) -> Floats:
    """The day's ordinary shoppers, from what was expected and what was sold [units per day]."""
    mean, size = np.maximum(mix.demand * (1 - mix.put_off), 1e-3), 1 / days.alpha
    ordinary = days.sold / (1 + mix.uplift * days.depth * (days.reduced_there > 0))
    return np.asarray((size + ordinary) / (size / mean + 1), np.float64)


def _at_full_price(days: KindDays, early_by_age: Ints, labelled_by_age: Ints) -> LineLedger:
    """The full-price units as a shelf of its own, whose last day is the one before reduction.

    The last day of the records is left out: what is reduced on the next is not yet known.
    """
    ledger, part = days.ledger, slice(days.first, None)
    reduce_age = (ledger.line.reduce_on_day or 1) - 1
    n = len(days.sold)
    dated = np.maximum(labelled_by_age[part], 0)
    undated = np.maximum(ledger.labelled[part] - dated.sum(axis=1), 0)
    left = np.zeros(n, np.int64)
    left[:-1] += undated[1:]
    for age in range(reduce_age, dated.shape[1]):
        # units that came due on closed days were labelled on the morning after them
        back = age - reduce_age + 1
        left[:-back] += dated[back:, age]
    early = early_by_age[part, :reduce_age]
    thrown = ledger.disposed_last_day[part] - early_by_age[part, -1]
    reduced_close = np.maximum(days.reduced_there - days.sold_reduced - thrown, 0)
    counted = {
        "baked": ledger.baked[part],
        "sold": days.sold - days.sold_reduced,
        # the units of a mishap on the last day stand among those that left on it
        "disposed_last_day": left + early[:, -1],
        "disposed_early": early[:, :-1].sum(axis=1),
        "on_hand_close": np.maximum(ledger.on_hand_close[part] - reduced_close - left, 0),
    }
    line = ledger.line.model_copy(
        update={"shelf_life_days": reduce_age, "reduce_on_day": None, "reduced_price": None}
    )
    return replace(ledger, line=line, **{name: units[:-1] for name, units in counted.items()})
