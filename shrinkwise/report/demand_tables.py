"""What was learned of the demand as tables: special days, prices, and how well it is foreseen."""

from dataclasses import dataclass

import polars as pl

from shrinkwise.demand.day_effects import OWN_DAYS, day_effects
from shrinkwise.demand.elasticity import ALL_LINES, price_answers
from shrinkwise.demand.foresight import Foresight, foresee
from shrinkwise.demand.level import sales_level
from shrinkwise.demand.level_breaks import level_breaks
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.together import LinesTogether
from shrinkwise.records.tables import Records
from shrinkwise.report.effect_tables import store_effects
from shrinkwise.report.words import count_text, same_weekday_text


@dataclass(frozen=True)
class DemandTables:
    """All that is shown of the demand.

    Attributes
    ----------
    store, fingerprint : str
        Name of the store, and of its records.
    store_effects : polars.DataFrame
        effect, days, change_pct, low_pct, high_pct; the clearest first.
    line_effects : polars.DataFrame
        The same by product, with rests_on.
    prices : polars.DataFrame
        Elasticity and promotion lift by line, category and store.
    foresight : Foresight
    level, breaks : polars.DataFrame
        Of the sales, and where they moved further than was foreseen.
    """

    store: str
    fingerprint: str
    store_effects: pl.DataFrame
    line_effects: pl.DataFrame
    prices: pl.DataFrame
    foresight: Foresight
    level: pl.DataFrame
    breaks: pl.DataFrame


def demand_tables(records: Records, model: DemandModel) -> DemandTables:
    """The tables of a model that `fit_demand` made of these records."""
    together = LinesTogether.of(records, model)
    effects, foresight = day_effects(together), foresee(together)
    return DemandTables(
        store=records.profile.name,
        fingerprint=records.fingerprint,
        store_effects=store_effects(effects),
        line_effects=effects.of_lines(),
        prices=price_answers(together).table(),
        foresight=foresight,
        level=sales_level(records),
        breaks=level_breaks(foresight.weeks),
    )


def effects_table(tables: DemandTables) -> pl.DataFrame:
    """What special days did to the demand of all lines, and then line by line."""
    store = tables.store_effects.select(
        pl.lit(ALL_LINES).alias("product"),
        "effect",
        "days",
        "change_pct",
        "low_pct",
        "high_pct",
        pl.lit(OWN_DAYS).alias("rests_on"),
    )
    return pl.concat([store, tables.line_effects])


def foresight_text(foresight: Foresight) -> str:
    """What the comparison of past days rests on, and which lines cannot tell."""
    if not foresight.line_days:
        said = "How well past days would have been foreseen cannot be told."
    else:
        said = (
            f"Each of the last {count_text(foresight.weeks.height, 'week')} from the days before "
            "it; how widely days scatter is learned from the same weeks. What is foreseen is the "
            "sale of what was there, so that sold-out days count too."
        )
    if foresight.left_out:
        said += (
            f" Without a bakes log, what was there is not known of {', '.join(foresight.left_out)}."
        )
    if foresight.by_same_weekday:
        said += f" Not looked at are {same_weekday_text(foresight.by_same_weekday)}"
    return said
