"""What last week cost, and what to do differently tomorrow."""

import polars as pl
import streamlit as st

from shrinkwise.dashboard import state
from shrinkwise.dashboard.parts import plain, show_basis, show_chart, show_sheet, show_table
from shrinkwise.demand.elasticity import ALL_LINES
from shrinkwise.money.calendar_weeks import week_name, whole_weeks
from shrinkwise.money.ratios import share_pct
from shrinkwise.money.review import WeekReview
from shrinkwise.money.unmet import ASSUMED
from shrinkwise.report import charts, demand_charts, review_tables, unmet_tables
from shrinkwise.report.cells import number_text
from shrinkwise.report.demand_tables import DemandTables, effects_table, foresight_text
from shrinkwise.report.effect_tables import (
    AGAINST,
    PRICES_TITLE,
    clear_effects,
    prices_shown,
)
from shrinkwise.report.level_chart import level_over_time
from shrinkwise.report.words import change, money_text, save_sentence


def show_figures(review: WeekReview) -> None:
    """The store's figures against the weeks before."""
    currency, week, before = review.store.currency, review.total, review.total_before
    shrink, shrink_before = (
        float(share_pct(total["shrink_at_retail"], total["net_sales"])) for total in (week, before)
    )
    figures = [
        ("Shrink at retail, % sales", f"{shrink:.1f}%", shrink - shrink_before),
        (
            f"Shrink at cost, {currency}",
            f"{week['shrink_at_cost']:,.0f}",
            week["shrink_at_cost"] - before["shrink_at_cost"],
        ),
        (
            "Labour hours",
            f"{week['labour_hours']:.1f}",
            week["labour_hours"] - before["labour_hours"],
        ),
        (
            "Sold out, line-days",
            f"{week['sold_out_days']:.0f}",
            week["sold_out_days"] - before["sold_out_days"],
        ),
    ]
    held = review.weeks_before > 0
    for column, (label, value, moved) in zip(st.columns(4), figures, strict=True):
        difference = number_text(moved, "+.1f") if held else None
        column.metric(label, value, difference, delta_color="inverse", border=True)


def show_changes() -> None:
    """The three changes worth most."""
    plan = state.plan()
    st.subheader("What to do differently", anchor=False)
    if plan.keeps_habit:
        st.markdown(f"**{plain(save_sentence(plan))}**.")
        return
    st.markdown(f"**{plain(save_sentence(plan))}**. Most of it:")
    largest = sorted(plan.lines, key=lambda line: -float(line.saving.mean()))[:3]
    for line in largest:
        said = change(line, plan.store.currency)
        st.markdown(f"- **{plain(line.line.name)}**: {plain(said)}")


def show_lines(review: WeekReview) -> None:
    """Where the week's loss came from."""
    currency, most = review.store.currency, review.costliest(1)
    if most.is_empty():
        return
    first = most.row(0, named=True)
    cost = money_text(first["loss"], currency)
    known = ("waste", "markdown", "labour") if review.disposals_logged else ("markdown", "labour")
    parts = review.lines.select("product", *known)
    show_chart(charts.loss_by_part(parts, currency, f"{first['product']} cost most: {cost}"))


def show_empty_shelf(review: WeekReview) -> None:
    """What was wanted and not there, which no log tells."""
    unmet = state.unmet(review.start)
    currency = review.store.currency
    st.subheader("The empty shelf", anchor=False)
    st.markdown(plain(unmet_tables.missed_sales_text(unmet, currency)))
    if unmet.units.any():
        show_table(unmet_tables.missed_sales_table(unmet))
        st.caption(
            plain(
                f"Estimated units; margin in {currency}; in brackets what nine of ten cases lie "
                f"within. It is not in the loss above. {ASSUMED}"
            )
        )
    if not_told := unmet_tables.not_told_text(unmet):
        st.caption(plain(not_told))


def show_demand(tables: DemandTables) -> None:
    """The level of the sales and, for the curious, what moves the demand and how it is foreseen."""
    if not tables.level.is_empty():
        show_chart(level_over_time(tables.level, tables.breaks))
    with st.expander("What special days and prices do to the demand"):
        show_effects(tables)
        st.markdown(plain(PRICES_TITLE))
        show_table(prices_shown(tables.prices))
    with st.expander("How well demand is foreseen"):
        if tables.foresight.line_days:
            show_chart(demand_charts.weeks_foreseen(tables.foresight))
            show_chart(demand_charts.pit_histogram(tables.foresight))
        st.caption(plain(foresight_text(tables.foresight)))


def show_effects(tables: DemandTables) -> None:
    """What special days do to all lines, and to one."""
    if tables.store_effects.is_empty():
        st.markdown("The records hold no special day.")
        return
    clear = clear_effects(tables.store_effects)
    if not clear.is_empty():
        show_chart(demand_charts.effects_of_days(clear))
    st.caption(plain(f"Change of the demand {AGAINST}."))
    names = [ALL_LINES, *tables.line_effects["product"].unique(maintain_order=True)]
    name = st.selectbox("Demand of", names, key="effects_of", persist_state="session")
    table = effects_table(tables).filter(pl.col("product") == name).drop("product")
    show_table(table, change_pct="+.0f", low_pct="+.0f", high_pct="+.0f")


records = state.records()
heading, choice = st.columns([3, 1], vertical_alignment="bottom")
weeks = [week_name(first) for first in whole_weeks(records)]
review = state.review(choice.selectbox("Week", weeks, key="week", persist_state="session"))
lost = money_text(review.total["loss"], review.store.currency)
heading.title(f"{review.week} cost {lost}", anchor=False)
against = money_text(review.total_before["loss"], review.store.currency)
said = (
    f"Lost to {review_tables.lost_to(review)}; {against} is the mean of the {review.weeks_before} "
    "weeks before, and small figures are changes against it. Sales are net sales."
    if review.weeks_before
    else f"Lost to {review_tables.lost_to(review)}. There is no whole week before it."
)
if not review.disposals_logged:
    said += f" {review_tables.NOT_LOGGED}"
st.markdown(plain(said))
show_figures(review)
doing, where = st.columns(2)
with doing:
    show_changes()
with where:
    show_lines(review)
show_sheet(state.sheet(), review.store.currency)
show_empty_shelf(review)
show_demand(state.demand())
with st.expander("By line"):
    shown = review_tables.review_table(review).select(review_tables.SHOWN_BY_LINE)
    decimals = [name for name in shown.columns if name != "product"]
    show_table(shown, **dict.fromkeys(decimals, ",.1f"))
    if review.disposals_logged:
        show_table(review.reasons, disposed_units=",.0f", before_units=",.1f")
show_basis(records)
