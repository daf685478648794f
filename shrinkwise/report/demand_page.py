"""How well the demand is foreseen, and what moves it, as one self-contained HTML page."""

from html import escape

import polars as pl

from shrinkwise.report import charts, demand_charts
from shrinkwise.report.demand_tables import DemandTables, foresight_text
from shrinkwise.report.effect_tables import (
    AGAINST,
    PRICES_TITLE,
    clear_effects,
    prices_shown,
)
from shrinkwise.report.html import page, section, table_html
from shrinkwise.report.level_chart import level_over_time
from shrinkwise.version import VERSION


def demand_page(tables: DemandTables, scores: pl.DataFrame) -> str:
    """The page as HTML.

    Parameters
    ----------
    tables : DemandTables
    scores : polars.DataFrame
        Of a back-test.
    """
    foresight, store = tables.foresight, tables.store
    drawn = [f'<p class="note">{escape(foresight_text(foresight))}</p>']
    if foresight.line_days:
        drawn.append(charts.svg(demand_charts.weeks_foreseen(foresight)))
        drawn.append(charts.svg(demand_charts.pit_histogram(foresight)))
    if not tables.level.is_empty():
        drawn.append(charts.svg(level_over_time(tables.level, tables.breaks)))
    sections = [
        f"<h1>{escape(store)}: how well the demand is foreseen</h1>",
        section("What came, and what was foreseen", "".join(drawn)),
        section("Predicted a week ahead, by line and by month", table_html(scores)),
        section(f"What special days do to the demand, {AGAINST}", _effects(tables)),
        section(PRICES_TITLE, table_html(prices_shown(tables.prices))),
        f'<p class="note">shrinkwise {escape(VERSION)}, records {tables.fingerprint[:12]}</p>',
    ]
    return page(f"How well the demand is foreseen, {store}", sections)


def _effects(tables: DemandTables) -> str:
    if tables.store_effects.is_empty():
        return "<p>The records hold no special day.</p>"
    clear = clear_effects(tables.store_effects)
    chart = "" if clear.is_empty() else charts.svg(demand_charts.effects_of_days(clear))
    return (
        f"{chart}{table_html(tables.store_effects)}"
        "<details><summary>Line by line</summary>"
        f"{table_html(tables.line_effects)}</details>"
    )
