"""On what terms a switch of one line is looked at."""

from dataclasses import dataclass
from typing import NamedTuple

from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour


class Shoppers(NamedTuple):
    """Who comes for an offered line.

    Attributes
    ----------
    demand_factor : float
        Mean factor of the present demand.
    fussy_pct : float
        Of the ordinary shoppers [%].
    """

    demand_factor: float
    fussy_pct: float


@dataclass(frozen=True)
class Terms:
    """Terms of a switch, each as a break-even and an assumption is called; None: as offered, and
    labour as it was compared.

    Attributes
    ----------
    dough_cost, price : float
        Of the offer; a reduced price keeps its share of the price [money per unit].
    disposal_cost : float
        Of the offer; that of the present line moves in proportion [money per unit].
    demand_factor : float
        Mean; its standard deviation is that of the offer.
    fussy_pct : float
        [% of the ordinary shoppers]
    shelf_life_days : int
        That the offer may be sold for [days].
    wage_per_hour, minutes_per_bake : float
        Of the offer and of the present line.
    """

    dough_cost: float | None = None
    price: float | None = None
    disposal_cost: float | None = None
    demand_factor: float | None = None
    fussy_pct: float | None = None
    shelf_life_days: int | None = None
    wage_per_hour: float | None = None
    minutes_per_bake: float | None = None

    def line(self, line: Line) -> Line:
        """An offered line on these terms, sold for as long as it is."""
        money = {
            name: getattr(self, name)
            for name in ("dough_cost", "price", "disposal_cost")
            if getattr(self, name) is not None
        }
        if self.price is not None and line.reduced_price is not None:
            money["reduced_price"] = line.reduced_price * self.price / line.price
        return line.model_copy(update=money) if money else line

    def present(self, line: Line, offered: Line) -> Line:
        """The present line on these terms."""
        if self.disposal_cost is None:
            return line
        moved = line.disposal_cost * self.disposal_cost / offered.disposal_cost
        return line.model_copy(update={"disposal_cost": moved})

    def labour(self, labour: Labour) -> Labour:
        """The labour on these terms."""
        named = {
            name: getattr(self, name)
            for name in ("wage_per_hour", "minutes_per_bake")
            if getattr(self, name) is not None
        }
        return labour.model_copy(update=named) if named else labour


AS_OFFERED = Terms()
