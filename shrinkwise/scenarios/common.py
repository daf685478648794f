"""Break-evens of a switch of several lines: what may change for all of them alike."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Self

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.scenarios.break_even import (
    DEAREST,
    MORE_DAYS,
    SHARES,
    BreakEven,
    Term,
)
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.reach import FACTOR_STEP, Reach, quantile
from shrinkwise.scenarios.terms import Terms

Floats = NDArray[np.float64]

MOST_LINES = 6
"""That are played at other demands, and planned for more days than offered where the offer does
not pay; with more of them that would take too long."""


COMMON_FACTORS = Reach(0.5, 2.0, FACTOR_STEP)
"""Common demand factors that are looked at."""


@dataclass(frozen=True)
class CommonStudy:
    """An offer of several lines.

    Attributes
    ----------
    lines : tuple of str
        That change.
    break_evens : tuple of BreakEven
        Against the offer and of all its lines alike: extra cost, price factor, demand factor,
        share of fussy shoppers, more days.
    """

    lines: tuple[str, ...]
    break_evens: tuple[BreakEven, ...]


@dataclass(frozen=True)
class CommonOffer:
    """An offer of several lines, each with the plans that were found for it.

    Under the plans at hand what the switch brings is that of the offer and what each line adds
    when it takes the best of its plans on other terms, the others left as they are: at least
    that, since lines that leave a baking day together would save its opening, too.

    Attributes
    ----------
    pools : tuple of Pool
    brings : array of float, shape (n_paths,)
        What the switch brings as it was compared [money per week].
    """

    pools: tuple[Pool, ...]
    brings: Floats

    @classmethod
    def of(cls, comparison: Comparison, index: int) -> Self | None:
        """The offer of a scenario; None unless it changes several lines that have a demand, none
        of which makes room for others, and adds none."""
        if comparison.asked[index].newcomers:
            return None
        pools = [Pool.of_line(comparison, index, name) for name in comparison.asked[index].lines]
        known = tuple(pool for pool in pools if pool is not None)
        if len(known) < 2 or len(known) < len(pools):
            return None
        return cls(known, known[0].brings)

    def bringing(self, parts: Sequence[Floats]) -> Floats:
        """What the switch brings with lines on other terms.

        Parameters
        ----------
        parts : sequence of array of float, shape (n_paths,)
            What it brings with each line alone on other terms [money per week].
        """
        return np.asarray(self.brings + np.sum([part - self.brings for part in parts], axis=0))

    def at_cost(self, extra: float) -> Floats:
        """With every line's dough dearer than offered by so much [money per unit]."""
        return self.bringing(
            [pool.best(Terms(dough_cost=pool.offered.dough_cost + extra)) for pool in self.pools]
        )

    def at_price(self, factor: float) -> Floats:
        """With every line's price so many times the offered one."""
        return self.bringing(
            [pool.best(Terms(price=factor * pool.offered.price)) for pool in self.pools]
        )

    def at_demand(self, factor: float) -> Floats:
        """With every line's demand so many times the one that the offer states."""
        return self.bringing(
            [
                pool.best(Terms(demand_factor=factor * pool.shoppers.demand_factor))
                for pool in self.pools
            ]
        )

    def at_fussy(self, pct: float) -> Floats:
        """With such a share of the shoppers fussy, of every line that keeps longer than now."""
        return self.bringing(
            [
                pool.brings if pool.fussy is None else pool.best(Terms(fussy_pct=pct))
                for pool in self.pools
            ]
        )

    def at_days(self, more: int) -> Floats | None:
        """With every line sold for so many days more than offered, or fewer; None where one of
        them was not planned for that."""
        parts = []
        for pool in self.pools:
            life = pool.offered.shelf_life_days + more
            if life not in {sale.line.shelf_life_days for sale in pool.sales}:
                return None
            parts.append(pool.best(Terms(shelf_life_days=life)))
        return self.bringing(parts)

    def with_days(self, more: int) -> Self | None:
        """With every line planned for so many days more than offered; None where one of them may
        not be sold for that."""
        pools = []
        for pool in self.pools:
            life = pool.offered.shelf_life_days + more
            if life > pool.offered.longest_life:
                return None
            pools.append(pool.with_sales(pool.planned(pool.offered.with_life(life))))
        return replace(self, pools=tuple(pools))


def common_cost(offer: CommonOffer) -> BreakEven:
    """The extra cost, the same for all lines, up to which the switch pays."""
    reach = Reach(
        -min(pool.offered.dough_cost for pool in offer.pools),
        max(pool.offered.price for pool in offer.pools),
    )
    return _found("extra_cost", 0.0, offer.at_cost, reach)


def common_price(offer: CommonOffer) -> BreakEven:
    """The factor of all prices from which on the switch pays."""
    ratios = [pool.offered.dough_cost / pool.offered.price for pool in offer.pools]
    return _found("price_factor", 1.0, offer.at_price, Reach(min(*ratios, 1.0), DEAREST))


def common_demand(offer: CommonOffer) -> BreakEven | None:
    """The factor of all demands, as the offer states them, from which on the switch pays; None
    where many lines change."""
    if len(offer.pools) > MOST_LINES:
        return None
    return _found("common_demand", 1.0, offer.at_demand, COMMON_FACTORS)


def common_fussy(offer: CommonOffer) -> BreakEven | None:
    """The largest share of fussy shoppers, the same of all lines that keep longer than now, at
    which the switch pays; None where many lines change, or none keeps longer.

    Under the plans at hand: made for more of them, plans would throw less, and the share would be
    somewhat larger.
    """
    keeping = [pool for pool in offer.pools if pool.fussy is not None]
    if not keeping or len(offer.pools) > MOST_LINES:
        return None
    stated = max(pool.shoppers.fussy_pct for pool in keeping)
    return _found("common_fussy", stated, offer.at_fussy, SHARES)


def common_days(offer: CommonOffer) -> BreakEven | None:
    """The fewest days, against those offered, with which the switch pays; None where none but
    those offered were looked at."""
    found: dict[int, Floats] = {}
    more = 0
    while (brought := offer.at_days(more)) is not None:
        found[more] = brought
        more -= 1
    few = len(offer.pools) <= MOST_LINES
    while few and found[max(found)].mean() <= 0 and max(found) < MORE_DAYS:
        planned = offer.with_days(max(found) + 1)
        brought = None if planned is None else planned.at_days(max(found) + 1)
        if planned is None or brought is None:
            break
        offer, found[max(found) + 1] = planned, brought

    if len(found) == 1:
        return None

    def fewest(measure: Callable[[Floats], float]) -> float | None:
        return next((float(days) for days in sorted(found) if measure(found[days]) > 0), None)

    low, high = (fewest(partial(quantile, q)) for q in INTERVAL[::-1])
    return BreakEven("more_days", 0.0, fewest(lambda brought: float(brought.mean())), low, high)


COMMON = (common_cost, common_price, common_demand, common_fussy, common_days)
"""Parts of the study of several lines."""


def _found(
    term: Term,
    offered: float,
    brought: Callable[[float], Floats],
    reach: Reach,
) -> BreakEven:
    place = reach.root(lambda x: float(brought(x).mean()))
    return BreakEven(term, offered, place, *reach.interval(brought))
