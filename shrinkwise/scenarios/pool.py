"""The plans found for one switched line, and what the switch brings with them on other terms."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.money.week import money_of, opening_money
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.rule import Rule
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store
from shrinkwise.scenarios.compare import WEEKS_A_YEAR, Comparison
from shrinkwise.scenarios.footing import Footing, played_rule
from shrinkwise.scenarios.line_case import LineCase, Sale
from shrinkwise.scenarios.payoff import Payoff

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Pool:
    """One switched line: the offer, and the plans that were found for it.

    What the switch brings is the change of the store's weekly result, less the one-off cost
    spread over a year of weeks; an array of shape (n_paths,) [money per week].

    Attributes
    ----------
    footing : Footing
    present, offered : Line
        The line as it is and as it would be, sold for the whole of its code.
    store : Store
        With the labour that there would be.
    factor : DemandFactor or None
        Of the offer.
    now, case : LineCase
        The line today, and switched, as they were compared.
    brings : array of float, shape (n_paths,)
        What the switch brings as it was compared [money per week].
    days_anyway : frozenset of int
        Weekdays on which other lines are baked.
    sales : tuple of Sale
        The plans found, each for a number of days on sale.
    drawn : dict of float to Futures
        Those that were drawn for other demand factors.
    """

    footing: Footing
    present: Line
    offered: Line
    store: Store
    factor: DemandFactor | None
    now: LineCase
    case: LineCase
    brings: Floats
    days_anyway: frozenset[int]
    sales: tuple[Sale, ...]
    drawn: dict[float, Futures] = field(default_factory=dict)

    @classmethod
    def of(cls, comparison: Comparison, index: int) -> "Pool | None":
        """The pool of a scenario; None unless it changes just one line, as in `of_line`."""
        asked = comparison.asked[index]
        if len(asked.lines) != 1 or asked.newcomers:
            return None
        (name,) = asked.lines
        return cls.of_line(comparison, index, name)

    @classmethod
    def of_line(cls, comparison: Comparison, index: int, name: str) -> "Pool | None":
        """The pool of a changed line; None where it has no demand, or makes room for others."""
        asked, case = comparison.asked[index], comparison.scenarios[index]
        if name not in case.lines:
            return None
        then, now = case.lines[name], comparison.now.lines[name]
        if then.makes_room or now.makes_room:
            # its plans by itself would not tell what the store can do
            return None
        payoff, others = Payoff.of(comparison, index), case.lines.keys() - {name}
        return cls(
            footing=comparison.footing,
            present=comparison.store.line(name),
            offered=asked.lines[name],
            store=asked.store(comparison.store),
            factor=asked.factors.get(name),
            now=now,
            case=then,
            brings=payoff.week - payoff.one_off_cost / WEEKS_A_YEAR,
            days_anyway=frozenset(
                day for other in others for day in case.lines[other].rule.bake_days
            ),
            sales=then.sales,
        )

    def with_sales(self, *sales: Sale) -> Self:
        """With more plans found."""
        return replace(self, sales=(*self.sales, *sales))

    def upto(self, life: int) -> Self:
        """With only the plans for so many days on sale and fewer."""
        return replace(self, sales=tuple(s for s in self.sales if s.line.shelf_life_days <= life))

    def bringing(self, sale: Sale, line: Line) -> Floats:
        """What the switch brings under a plan, when the line has the money of `line`."""
        labour = self.store.labour
        result = money_of(sale.outcome.quantities, line, labour).result
        moved = self.opening(sale.rule, labour) - self.opening(self.case.rule, labour)
        return np.asarray(self.brings + result - self.case.outcome.money.result - moved)

    def opening(self, rule: Rule, labour: Labour) -> float:
        """What it costs to open the bakery on the days of a rule and of all other lines
        [money per week]."""
        days = self.days_anyway | set(rule.bake_days)
        return float(opening_money(len(days), labour).labour)

    def best(self, dough_cost: float | None = None, price: float | None = None) -> Floats:
        """What the switch brings under the best of the plans, perhaps on other terms."""
        return self.bringing(*self.best_sale(dough_cost, price))

    def best_sale(
        self, dough_cost: float | None = None, price: float | None = None
    ) -> tuple[Sale, Line]:
        """The best of the plans on these terms, and its line with them."""
        found = [(sale, on_terms(sale.line, dough_cost, price)) for sale in self.sales]
        return max(found, key=lambda one: float(self.bringing(*one).mean()))

    def at_factor(self, mean: float, bases: Sequence[tuple[float, Sale]]) -> Floats:
        """What the switch brings at another demand factor, under the best of plans that were made
        for other factors and are carried over to this one.

        Parameters
        ----------
        mean : float
            The factor; its standard deviation is that of the offer.
        bases : sequence of (float, Sale)
            Plans, each with the mean factor that it was made for.
        """
        judge = self.judge_at(mean)
        found = []
        for made_for, sale in bases:
            rules = {
                id(rule): rule for rule in (carried_over(sale.plain, mean / made_for), sale.rule)
            }
            for rule in rules.values():
                outcome = played_rule(rule, sale.line, self.store, judge)
                found.append(self.bringing(replace(sale, rule=rule, outcome=outcome), sale.line))
        return max(found, key=lambda brought: float(brought.mean()))

    def judge_at(self, mean: float) -> Futures:
        """The futures at another demand factor, drawn once: a root is looked for at the same
        factors under one plan after the other."""
        if mean not in self.drawn:
            factor = DemandFactor(mean, 0.0 if self.factor is None else self.factor.sd)
            self.drawn[mean] = self.footing.judge(self.offered.name, factor)
        return self.drawn[mean]


def on_terms(line: Line, dough_cost: float | None = None, price: float | None = None) -> Line:
    """A line at another dough cost and price; a reduced price keeps its share of the price."""
    terms: dict[str, float] = {}
    if dough_cost is not None:
        terms["dough_cost"] = dough_cost
    if price is not None:
        terms["price"] = price
        if line.reduced_price is not None:
            terms["reduced_price"] = line.reduced_price * price / line.price
    return line.model_copy(update=terms)


def carried_over(rule: Rule, factor: float) -> Rule:
    """A rule for a demand that is `factor` times as high."""
    if factor == 1:
        return rule
    targets = np.where(rule.targets == NO_BAKE, NO_BAKE, np.rint(rule.targets * factor))
    nights = rule.sold_by_night
    return replace(
        rule,
        targets=targets.astype(np.int16),
        least_need=max(1, round(rule.least_need * factor)),
        ceiling=None if rule.ceiling is None else max(1, round(rule.ceiling * factor)),
        sold_by_night=None if nights is None else _nights(nights, factor),
    )


def _nights(nights: NDArray[np.int16], factor: float) -> NDArray[np.int16]:
    return np.where(nights < 0, nights, np.rint(nights * factor)).astype(np.int16)
