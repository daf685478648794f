"""The plans found for one switched line, and what the switch brings with them on other terms."""

from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.money.week import money_of, opening_money
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import Outcome
from shrinkwise.planning.rule import Rule, carried_over
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store
from shrinkwise.scenarios.compare import WEEKS_A_YEAR, Comparison
from shrinkwise.scenarios.footing import Footing, played_rule
from shrinkwise.scenarios.fussy import Fussiness
from shrinkwise.scenarios.fussy_days import usual_day
from shrinkwise.scenarios.line_case import LineCase, Sale
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.terms import AS_OFFERED, Shoppers, Terms

Floats = NDArray[np.float64]

FUSSY_MOST = 50.0
"""Share of fussy shoppers that is taken to be possible [%]."""


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
    fussy : Fussiness or None
        Of the offer; None where it keeps no longer than the present line, and none is stated.
    drawn : dict of Shoppers to Futures
        Those that were drawn for other shoppers.
    played : dict of (Sale, Shoppers) to tuple of Sale
        Plans that were played for other shoppers.
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
    fussy: Fussiness | None = None
    drawn: dict[Shoppers, Futures] = field(default_factory=dict)
    played: dict[tuple[Sale, Shoppers], tuple[Sale, ...]] = field(default_factory=dict)

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
        present, offered = comparison.store.line(name), asked.lines[name]
        fussy = asked.fussy.get(name)
        if fussy is None and offered.shelf_life_days > present.shelf_life_days:
            fussy = Fussiness(0.0, usual_day(name, comparison.footing))
        return cls(
            footing=comparison.footing,
            present=present,
            offered=offered,
            store=asked.store(comparison.store),
            factor=asked.factors.get(name),
            now=now,
            case=then,
            brings=payoff.week - payoff.one_off_cost / WEEKS_A_YEAR,
            days_anyway=frozenset(
                day for other in others for day in case.lines[other].rule.bake_days
            ),
            sales=then.sales,
            fussy=fussy,
        )

    def with_sales(self, *sales: Sale) -> Self:
        """With more plans found."""
        return replace(self, sales=(*self.sales, *sales))

    @property
    def shoppers(self) -> Shoppers:
        """Who comes for the offer."""
        mean = 1.0 if self.factor is None else self.factor.mean
        return Shoppers(mean, 0.0 if self.fussy is None else self.fussy.pct)

    @property
    def most_fussy(self) -> float:
        """The largest share of fussy shoppers that is taken to be possible: what is stated, if
        that is more [%]."""
        return max(FUSSY_MOST, self.shoppers.fussy_pct)

    def best(self, terms: Terms = AS_OFFERED) -> Floats:
        """What the switch brings under the best of the plans, perhaps on other terms."""
        return self.bringing(self.best_sale(terms), terms)

    def best_sale(self, terms: Terms = AS_OFFERED) -> Sale:
        """The best of the plans on these terms, for as many days as the offer may be sold for;
        with the money of the offer."""
        longest = terms.shelf_life_days or self.offered.shelf_life_days
        shoppers = self._shoppers_on(terms)
        found = [
            played
            for sale in self.sales
            if sale.line.shelf_life_days <= longest
            for played in self._played(sale, shoppers)
        ]
        return max(found, key=lambda sale: float(self.bringing(sale, terms).mean()))

    def bringing(self, sale: Sale, terms: Terms = AS_OFFERED) -> Floats:
        """What the switch brings under a plan, as it was played, with the money of these terms.

        Today's line keeps its plan; where the labour or the disposal cost moves, its week moves.
        """
        own = self.store.labour
        labour = terms.labour(own)

        def worth(rule: Rule, outcome: Outcome, line: Line, labour: Labour) -> Floats:
            opening = self.opening(rule, labour)
            return np.asarray(money_of(outcome.quantities, line, labour).result - opening)

        then = worth(sale.rule, sale.outcome, terms.line(sale.line), labour)
        compared = worth(self.case.rule, self.case.outcome, self.offered, own)
        brings = self.brings + then - compared
        present = terms.present(self.present, self.offered)
        if labour is own and present is self.present:
            return np.asarray(brings)
        now, moved = (
            worth(self.now.rule, self.now.outcome, *one)
            for one in ((self.present, own), (present, labour))
        )
        return np.asarray(brings - (moved - now))

    def planned(self, line: Line, terms: Terms = AS_OFFERED) -> Sale:
        """The best plan there is on these terms.

        Parameters
        ----------
        line : Line
            With the money of the offer, which that of the terms overrules; sold for its shelf
            life.
        terms : Terms
        """
        shoppers = self._shoppers_on(terms)
        judging = self.footing.judging(self.offered.name, self._factor(shoppers))
        who, seed = self._fussy(shoppers), self.footing.settings.seed
        sale = self.footing.sale(terms.line(line), self.store, who.among(judging, line, seed))
        return replace(sale, line=line, planned_for=shoppers)

    def opening(self, rule: Rule, labour: Labour) -> float:
        """What it costs to open the bakery on the days of a rule and of all other lines
        [money per week]."""
        days = self.days_anyway | set(rule.bake_days)
        return float(opening_money(len(days), labour).labour)

    def _played(self, sale: Sale, shoppers: Shoppers) -> tuple[Sale, ...]:
        """A plan played for these shoppers, as it is and carried over to their demand."""
        made_for = sale.planned_for or self.shoppers
        same_demand = made_for.demand_factor == shoppers.demand_factor
        unmoved = not any(self._fussy(one).bears_on(sale.line) for one in (made_for, shoppers))
        if made_for == shoppers or (same_demand and unmoved):
            return (sale,)
        key = sale, shoppers
        if key not in self.played:
            times = shoppers.demand_factor / made_for.demand_factor
            rules = {id(rule): rule for rule in (carried_over(sale.plain, times), sale.rule)}
            judge = self._judge(sale.line, shoppers)
            self.played[key] = tuple(
                replace(sale, rule=rule, outcome=played_rule(rule, sale.line, self.store, judge))
                for rule in rules.values()
            )
        return self.played[key]

    def _judge(self, line: Line, shoppers: Shoppers) -> Futures:
        """The futures with these shoppers, drawn once for each demand and share: a root is looked
        for at the same ones under one plan after the other."""
        name, seed = self.offered.name, self.footing.settings.seed
        plain = Shoppers(shoppers.demand_factor, 0.0)
        if plain not in self.drawn:
            self.drawn[plain] = self.footing.judge(name, self._factor(shoppers))
        who = self._fussy(shoppers)
        if not who.bears_on(line):
            return self.drawn[plain]
        if shoppers not in self.drawn:
            self.drawn[shoppers] = who.judge(self.drawn[plain], line, seed)
        return self.drawn[shoppers]

    def _shoppers_on(self, terms: Terms) -> Shoppers:
        own = self.shoppers
        return Shoppers(
            own.demand_factor if terms.demand_factor is None else terms.demand_factor,
            own.fussy_pct if terms.fussy_pct is None else terms.fussy_pct,
        )

    def _factor(self, shoppers: Shoppers) -> DemandFactor | None:
        """Of these shoppers; its standard deviation is that of the offer."""
        if shoppers.demand_factor == self.shoppers.demand_factor:
            return self.factor
        sd = 0.0 if self.factor is None else self.factor.sd
        return DemandFactor(shoppers.demand_factor, sd)

    def _fussy(self, shoppers: Shoppers) -> Fussiness:
        if self.fussy is None:
            return Fussiness()
        return replace(self.fussy, pct=shoppers.fussy_pct)
