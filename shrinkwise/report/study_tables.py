"""Break-evens, what must be true and the map of offers as tables."""

from collections.abc import Iterable
from itertools import chain

import polars as pl

from shrinkwise.scenarios.study import Study, SwitchStudy

NamedStudy = tuple[str, Study]
"""A scenario's name and the study of its one changed line."""

DECIMALS = 4
"""Of tables with prices in tenths of a cent."""

BREAK_EVEN_COLUMNS = {
    "scenario": pl.String,
    "product": pl.String,
    "term": pl.String,
    "offered": pl.Float64,
    "break_even": pl.Float64,
    "break_even_low": pl.Float64,
    "break_even_high": pl.Float64,
    "difference_week": pl.Float64,
    "difference_week_se": pl.Float64,
    "until_day": pl.Int64,
}
SWING_COLUMNS = {
    "scenario": pl.String,
    "product": pl.String,
    "assumption": pl.String,
    "low": pl.Float64,
    "high": pl.Float64,
    "difference_week_low": pl.Float64,
    "difference_week_high": pl.Float64,
    "own_pct": pl.Float64,
}
COMBINATION_COLUMNS = {
    "scenario": pl.String,
    "product": pl.String,
    "dough_cost": pl.Float64,
    "demand_factor": pl.Float64,
    "fussy_pct": pl.Float64,
    "shelf_life_days": pl.Float64,
    "wage_per_hour": pl.Float64,
    "minutes_per_bake": pl.Float64,
    "disposal_cost": pl.Float64,
    "difference_week": pl.Float64,
}
MAP_COLUMNS = {
    "scenario": pl.String,
    "product": pl.String,
    "extra_days": pl.Int64,
    "extra_cost": pl.Float64,
    "difference_week": pl.Float64,
    "zero_extra_cost": pl.Float64,
}


def break_even_table(studies: Iterable[NamedStudy]) -> pl.DataFrame:
    """A row per scenario and term: what is offered, and the highest dough_cost or the lowest
    price [money per unit], the smallest demand_factor, the fewest extra_days or the largest
    fussy_pct at which the switch still pays; between low and high it lies in nine of ten futures.
    Fussy shoppers take no unit after until_day on the shelf [% of the ordinary ones].
    difference_week is what the switch brings when the line is planned anew there, the one-off cost
    spread over a year. Empty where there is none. Where several lines change, the terms are common
    to all of them and against the offer: extra_cost [money per unit], price_factor, common_demand,
    common_fussy and more_days, under the plans that were found for the offer.
    """
    rows = [
        (
            name,
            _product(study),
            one.term,
            one.offered,
            one.root,
            one.low,
            one.high,
            one.difference,
            one.difference_se,
            one.until_day,
        )
        for name, study in studies
        for one in study.break_evens
    ]
    return pl.DataFrame(rows, schema=BREAK_EVEN_COLUMNS, orient="row")


def _product(study: Study) -> str:
    return study.offer.offered.name if isinstance(study, SwitchStudy) else ", ".join(study.lines)


def swings_table(studies: Iterable[NamedStudy]) -> pl.DataFrame:
    """A row per scenario and assumption: the ends of its range, and what the switch brings there,
    the one-off cost spread over a year [money per week]; the widest first. own_pct is its own part
    of the variance over all combinations of the ends [%]; empty of what the futures leave open."""
    rows = [
        (
            name,
            study.offer.offered.name,
            one.assumption,
            one.low,
            one.high,
            one.at_low,
            one.at_high,
            own.get(one.assumption),
        )
        for name, study in studies
        if isinstance(study, SwitchStudy)
        for own in [study.together.own_pct]
        for one in study.swings
    ]
    return pl.DataFrame(rows, schema=SWING_COLUMNS, orient="row")


def combinations_table(studies: Iterable[NamedStudy]) -> pl.DataFrame:
    """A row per scenario and combination of the ends of all assumptions, which is where each of
    them is, empty where it is none; and what the switch brings there [money per week]. The worst
    first."""
    rows = [
        {
            "scenario": name,
            "product": study.offer.offered.name,
            **one.at,
            "difference_week": one.brings,
        }
        for name, study in studies
        if isinstance(study, SwitchStudy)
        for one in sorted(study.together, key=lambda one: one.brings)
    ]
    return pl.DataFrame(rows, schema=COMBINATION_COLUMNS)


def map_table(studies: Iterable[NamedStudy]) -> pl.DataFrame:
    """A row per scenario, extra days and extra cost: what the switch brings [money per week], and
    the extra cost at which that many days bring nothing."""
    rows = chain.from_iterable(
        (
            (name, study.offer.offered.name, column.extra_days, cost, brings, column.zero)
            for cost, brings in zip(column.extra_cost, column.brings, strict=True)
        )
        for name, study in studies
        if isinstance(study, SwitchStudy)
        for column in study.map
    )
    return pl.DataFrame(list(rows), schema=MAP_COLUMNS, orient="row")
