"""The money of a week: the same arithmetic for a simulated week and for a logged one."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.simulate import Flows
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

Amounts = NDArray[Any]
"""Whole units of a simulation, or floats."""


class _Summable:
    """Frozen dataclasses of arrays that are added and scaled field by field."""

    def __add__(self, other: Self) -> Self:
        return self._map(lambda name: getattr(self, name) + getattr(other, name))

    def __radd__(self, zero: int) -> Self:
        return self

    def per(self, weeks: float) -> Self:
        """Every field divided by a number of weeks."""
        return self._map(lambda name: getattr(self, name) / weeks)

    def on_average(self) -> Self:
        """Every field's mean over the paths."""
        return self._map(lambda name: getattr(self, name).mean(axis=-1))

    def at(self, plan: int) -> Self:
        """The fields of one plan."""
        return self._map(lambda name: getattr(self, name)[plan])

    def _map(self, value: Any) -> Self:
        return type(self)(**{one.name: value(one.name) for one in fields(self)})  # type: ignore[arg-type]


@dataclass(frozen=True)
class Quantities(_Summable):
    """Units and events of a line, of any one shape.

    Attributes
    ----------
    baked, sold_full, sold_reduced, labelled, disposed, unmet, stock_change : array of float
        [units]; `labelled` were given the reduced price, `unmet` were wanted and not there,
        `stock_change` is closing less opening.
    freezer_disposed : array of float
        Dough thrown from the freezer, its days there being over [units].
    bakes, pans : array of float
        Bakes of the line; pans used.
    bargains : array of float
        Sold to shoppers who came for a reduced unit alone [units].
    """

    baked: Amounts
    bakes: Amounts
    pans: Amounts
    labelled: Amounts
    sold_full: Amounts
    sold_reduced: Amounts
    disposed: Amounts
    unmet: Amounts
    stock_change: Amounts
    freezer_disposed: Amounts = field(default_factory=lambda: np.zeros(()))
    bargains: Amounts = field(default_factory=lambda: np.zeros(()))

    @classmethod
    def of_weeks(cls, running: Sequence[Self]) -> Self:
        """Each of several weeks by itself, from the sums up to the end of each."""

        def each(name: str) -> Amounts:
            return np.diff(np.stack([getattr(one, name) for one in running]), axis=0, prepend=0)

        return cls(**{one.name: each(one.name) for one in fields(cls)})

    def from_freezer(self, line: Line) -> Self:
        """These quantities of a week, with the dough thrown from the freezer.

        A line that is baked sells an order of dough at the pace of its bakes. The next order
        comes when the last one is used up, or its days in the freezer are over: at a pace of b
        units a week, of Q units with F weeks to live Q - b F are thrown every F weeks. Never
        baked, it is not ordered.
        """
        thrown = np.where(self.baked > 0, np.maximum(line.least_pace - self.baked, 0.0), 0.0)
        return replace(self, freezer_disposed=thrown)

    @classmethod
    def of_flows(cls, flows: Flows) -> Self:
        """The quantities of a simulation, shape (n_plans, n_paths); it knows of no freezer, and not
        who came for a bargain alone."""
        nothing = np.zeros_like(flows.disposed)
        return cls(
            baked=flows.baked.sum(axis=1, dtype=np.int32),
            bakes=flows.bakes.sum(axis=1, dtype=np.int32),
            pans=flows.pans,
            labelled=flows.labelled,
            sold_full=flows.sold_full,
            sold_reduced=flows.sold_reduced,
            disposed=flows.disposed,
            unmet=flows.unmet,
            stock_change=flows.closing - flows.opening,
            freezer_disposed=nothing,
            bargains=nothing,
        )


@dataclass(frozen=True)
class Money(_Summable):
    """What quantities come to [money], and the labour in them [hours].

    Attributes
    ----------
    net_sales, dough, waste, markdown, labour, missed_margin : array of float
        Money taken; dough baked, and thrown from the freezer; dough and disposal cost of what
        was disposed of, from the shelf and from the freezer; money given away on reduced units;
        wage; margin of unmet demand, less that of units sold to who came for a bargain alone,
        since these are beside the demand.
    disposed_at_retail, disposed_at_cost : array of float
        What was disposed of from the shelf at the full price; and from shelf and freezer at dough
        cost.
    labour_hours : array of float
        [hours]
    result, loss : array of float
        Result = net sales - dough - disposal cost - labour. Loss = waste + markdown + labour +
        missed margin. Their sum, with the stock change at dough cost, depends on the demand
        alone.
    """

    net_sales: Amounts
    dough: Amounts
    waste: Amounts
    markdown: Amounts
    labour: Amounts
    labour_hours: Amounts
    missed_margin: Amounts
    disposed_at_retail: Amounts
    disposed_at_cost: Amounts
    result: Amounts
    loss: Amounts


def money_of(quantities: Quantities, line: Line, labour: Labour) -> Money:
    """What the quantities of a line come to.

    result = price x sold full + reduced price x sold reduced - dough cost x baked
    - disposal cost x disposed - wage x hours; dough thrown from the freezer counts as baked and
    disposed. The opening of a baking day is shared by all lines and not in it (see
    `opening_money`).

    Parameters
    ----------
    quantities : Quantities
    line : Line
    labour : Labour
    """
    q = quantities
    reduced_price = line.price if line.reduced_price is None else line.reduced_price
    hours = labour_hours(q, labour)
    wages = labour.wage_per_hour * hours
    net_sales = line.price * q.sold_full + reduced_price * q.sold_reduced
    thrown = q.disposed + q.freezer_disposed
    waste = (line.dough_cost + line.disposal_cost) * thrown
    markdown = (line.price - reduced_price) * q.sold_reduced
    missed_margin = line.unit_margin * (q.unmet - q.bargains)
    dough = line.dough_cost * (q.baked + q.freezer_disposed)
    return Money(
        net_sales=net_sales,
        dough=dough,
        waste=waste,
        markdown=markdown,
        labour=wages,
        labour_hours=hours,
        missed_margin=missed_margin,
        disposed_at_retail=line.price * q.disposed,
        disposed_at_cost=line.dough_cost * thrown,
        result=net_sales - dough - line.disposal_cost * thrown - wages,
        loss=waste + markdown + wages + missed_margin,
    )


def labour_hours(quantities: Quantities, labour: Labour) -> Amounts:
    """Hours that the bakes, pans and units take, without the opening of baking days [hours]."""
    minutes = (
        labour.minutes_per_bake * quantities.bakes
        + labour.minutes_per_pan * quantities.pans
        + labour.minutes_per_unit * quantities.baked
        + labour.minutes_per_reduced_unit * quantities.labelled
        + labour.minutes_per_disposed_unit * quantities.disposed
    )
    return minutes / 60


def opening_money(baking_days: Amounts | float, labour: Labour) -> Money:
    """What it costs to open the bakery on so many baking days, whatever is baked."""
    days = np.asarray(baking_days, np.float64)
    hours = labour.minutes_per_baking_day * days / 60
    wages = labour.wage_per_hour * hours
    none = np.zeros_like(days)
    return Money(
        **{one.name: none for one in fields(Money)}
        | {"labour_hours": hours, "labour": wages, "result": -wages, "loss": wages}
    )
