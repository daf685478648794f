"""When to reduce a line and to what price."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from shrinkwise.planning.futures import Futures
from shrinkwise.planning.judging import chosen_rule
from shrinkwise.planning.outcome import Floats, Outcome, line_outcome, standard_error
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store
from shrinkwise.records.tables import Records
from shrinkwise.shelf.kinds import Estimate

FEWEST_PRICE_DAYS = 5
MOST_PRICES = 3
"""Price points of a line that are tried, those that were used most."""

SURE = 0.9
"""Share of futures on which a change must save to be advised."""


@dataclass(frozen=True)
class MarkdownOption:
    """A day of reduction and a reduced price, under its own best plan.

    Attributes
    ----------
    reduce_on_day : int or None
        Day on shelf; None for never.
    reduced_price : float or None
        [money per unit]
    savings : array of float, shape (n_paths,)
        Of each future, against the present reduction under its best plan [money per week].
    reduced_units_week : float
        Sold at the reduced price [units per week].
    """

    reduce_on_day: int | None
    reduced_price: float | None
    savings: Floats
    reduced_units_week: float

    @property
    def saving_week(self) -> float:
        """On average [money per week]."""
        return float(self.savings.mean())

    @property
    def saving_week_se(self) -> float:
        """Its standard error [money per week]."""
        return standard_error(self.savings)

    @property
    def is_sure(self) -> bool:
        """It saves more than the noise, and something on nearly all futures."""
        chance = (self.savings > 0).mean()
        return bool(chance >= SURE and self.saving_week > 2 * self.saving_week_se)

    def is_present(self, line: Line) -> bool:
        """Whether it is the line's reduction as it is."""
        return (self.reduce_on_day, self.reduced_price) == (line.reduce_on_day, line.reduced_price)


def price_points(records: Records, line: Line) -> list[float]:
    """Prices at which the store has reduced the line, the present one first and the most used ones
    before others [money per unit].

    Parameters
    ----------
    records : Records
    line : Line

    Returns
    -------
    list of float
        Empty where the line is not reduced. A price of fewer than five days is left out: it may be
        a slip of the pen.
    """
    if line.reduced_price is None:
        return []
    used = (
        records.markdowns.filter(
            pl.col("product") == line.name, pl.col("unit_price").is_between(0.01, line.price * 0.99)
        )
        .group_by(pl.col("unit_price").round(2))
        .agg(pl.col("units").sum(), days=pl.col("date").n_unique())
        .filter(pl.col("days") >= FEWEST_PRICE_DAYS)
        .sort("units", "unit_price", descending=True)["unit_price"]
        .to_list()
    )
    others = [price for price in used if abs(price - line.reduced_price) > 0.005]
    return [line.reduced_price, *others[: MOST_PRICES - 1]]


def markdown_options(
    line: Line,
    store: Store,
    judging: Judging,
    every_kind: Futures,
    present: Rule,
    bargain: Estimate,
    prices: Sequence[float],
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> tuple[MarkdownOption, ...]:
    """Days of reduction and reduced prices: those that are sure to save, the present one, the
    others, each by what they save; empty where the logs cannot tell.

    Bargain shoppers are taken to grow with the depth of the reduction, as a share of the price;
    who takes the oldest units or switches to reduced ones does so at any depth. Other days and
    prices are only tried where the logs tell bargain shoppers from chance, no reduction always.

    Each is played under the plan that the store would be given, on futures with every kind of
    shoppers that there may be: that the logs show no sign of bargain shoppers does not prove that
    there are none.

    Parameters
    ----------
    line : Line
    store : Store
    judging : Judging
        The futures, with the kinds that the logs tell from chance.
    every_kind : Futures
        Those on which plans are judged, with every kind that there may be.
    present : Rule
        The best plan with the present reduction.
    bargain : Estimate
    prices : sequence of float
        Price points [money per unit].
    present_days : tuple of int
        The store's bake days.
    settings : PlanSettings
    """
    if line.reduce_on_day is None or bargain.mean is None:
        return ()
    tried: list[tuple[int | None, float | None]] = [(None, None)]
    if bargain.plays:
        days = range(2, line.shelf_life_days + 1)
        tried += [(day, price) for price in prices for day in days]
    now = line.reduce_on_day, line.reduced_price

    def outcome(of: Line, rule: Rule, futures: Futures) -> Outcome:
        return line_outcome(of, store.labour, futures, policy_of([rule], futures, of))

    as_now = outcome(line, present, every_kind)
    found = [_option(now, as_now, as_now)]
    for day, price in tried:
        if (day, price) == now:
            continue
        other = line.model_copy(update={"reduce_on_day": day, "reduced_price": price})
        drawn, there = judging, every_kind
        if price is not None:
            drawn = Judging(
                *(at_depth(one, line, price, settings.seed) for one in (drawn.search, drawn.judge))
            )
            there = at_depth(there, line, price, settings.seed)
        rule = chosen_rule(other, store, drawn, present_days, settings).rule
        found.append(_option((day, price), outcome(other, rule, there), as_now))
    return what_to_do_first(found, line)


def what_to_do_first(options: Sequence[MarkdownOption], line: Line) -> tuple[MarkdownOption, ...]:
    """The options that are sure to save, the present one, and the others, each by what they save:
    what might save more does not hide what surely saves something."""

    def order(option: MarkdownOption) -> tuple[bool, bool, float]:
        return not option.is_sure, not option.is_present(line), -option.saving_week

    return tuple(sorted(options, key=order))


def _option(
    reduction: tuple[int | None, float | None], outcome: Outcome, present: Outcome
) -> MarkdownOption:
    savings = present.money.loss - outcome.money.loss
    return MarkdownOption(*reduction, savings, float(outcome.quantities.sold_reduced.mean()))


def at_depth(futures: Futures, line: Line, price: float, seed: int) -> Futures:
    """The futures with the bargain shoppers of another reduced price, who grow with the depth of
    the reduction.

    Parameters
    ----------
    futures : Futures
        With those of the line's present reduced price.
    line : Line
        That is reduced.
    price : float
        The other reduced price [money per unit].
    seed : int

    Returns
    -------
    Futures
    """
    if line.reduced_price is None:
        return futures
    return futures.with_bargains((line.price - price) / (line.price - line.reduced_price), seed)
