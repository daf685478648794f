"""The files of what moves the demand, and of how well it is foreseen."""

import polars as pl

from shrinkwise.report.demand_page import demand_page
from shrinkwise.report.demand_tables import DemandTables, effects_table
from shrinkwise.report.sheets import csv_text


def demand_contents(tables: DemandTables, scores: pl.DataFrame) -> dict[str, str]:
    """demand_effects.csv, price_elasticity.csv and demand.html.

    Parameters
    ----------
    tables : DemandTables
    scores : polars.DataFrame
        Of a back-test.
    """
    return {
        "demand_effects.csv": csv_text(effects_table(tables)),
        "price_elasticity.csv": csv_text(tables.prices),
        "demand.html": demand_page(tables, scores),
    }
