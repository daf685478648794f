"""The bake plan: what it saves, tonight's sheet, targets by weekday, downloads."""

import polars as pl
import streamlit as st

from shrinkwise.dashboard import state
from shrinkwise.dashboard.parts import plain, show_basis, show_chart, show_sheet, show_table
from shrinkwise.money.calendar_weeks import week_name
from shrinkwise.planning.week import coming_weeks
from shrinkwise.report import charts, plan_tables
from shrinkwise.report.capacity_tables import limits_text, tight_limits_table
from shrinkwise.report.plan_files import plan_contents
from shrinkwise.report.sheets import csv_text
from shrinkwise.report.target_chart import loss_by_target
from shrinkwise.report.target_tables import curve_table, off_target_table
from shrinkwise.report.week_tables import differing_table, week_headline, week_table
from shrinkwise.report.words import (
    BY_HAND_TITLE,
    LIMITS_TITLE,
    TARGETS_TITLE,
    doubts,
    interval_text,
    save_title,
)

WEEKS_SHOWN = 13
"""Coming weeks that can be chosen."""

plan, sheet = state.plan(), state.sheet()
currency = plan.store.currency
recommendations = plan_tables.recommendations_table(plan).sort("saving_week", descending=True)

st.title(plain(save_title(plan)), anchor=False)
st.markdown(
    plain(
        f"Expected, against the present habit over {plan.settings.weeks} weeks from {plan.start}; "
        f"in nine of ten futures {interval_text(plan.saving, currency)}."
    )
)
with st.container(horizontal=True):
    for name, content in plan_contents(plan, sheet).items():
        st.download_button(name, data=content, file_name=name, on_click="ignore", key=name)
show_sheet(sheet, currency)
st.subheader("A week as it will be", anchor=False)
weeks = {week_name(first): first for first in coming_weeks(state.records(), WEEKS_SHOWN)}
chosen = st.selectbox("Week", list(weeks), index=None, placeholder="Choose a week", key="week")
if chosen is not None:
    week = state.week(weeks[chosen])
    st.markdown(plain(week_headline(week, currency)))
    if not (differing := differing_table(week)).is_empty():
        show_table(differing, expected_batch_units=".1f", standing_batch_units=".1f")
    st.download_button(
        "week_plan.csv",
        data=csv_text(week_table(week)),
        file_name=f"week_plan_{week.name}.csv",
        on_click="ignore",
        key="week_plan.csv",
    )
st.subheader("The store's week")
show_table(plan_tables.store_table(plan), now=",.1f", plan=",.1f")
st.subheader(TARGETS_TITLE)
show_table(plan_tables.targets_table(plan))
if not (by_hand := plan_tables.by_hand_table(plan)).is_empty():
    st.subheader(BY_HAND_TITLE)
    show_table(by_hand)
limits = tight_limits_table(plan)
if not limits.is_empty():
    st.subheader(LIMITS_TITLE)
    if said := limits_text(plan):
        st.markdown(plain(said))
    show_table(
        limits,
        **dict.fromkeys(("used_mean", "used_busy", "capacity", "slack", "one_more"), ",.1f"),
        value_of_one_more_week=",.2f",
    )
st.subheader("What to change, line by line")
st.dataframe(
    recommendations.select("product", "saving_week", "why"),
    hide_index=True,
    width="stretch",
    row_height=95,
    height=95 * recommendations.height + 40,
    column_config={
        "product": st.column_config.TextColumn("Line", width="small"),
        "saving_week": st.column_config.NumberColumn(
            f"Saving [{currency} a week]", format="%.2f", width="small"
        ),
        "why": st.column_config.TextColumn("Why", width="large"),
    },
)
show_chart(charts.now_against_plan(recommendations, currency))
st.subheader("When a target is off", anchor=False)
curves = curve_table(plan)
baked = curves["product"].unique(maintain_order=True).to_list()
if baked:
    line = st.selectbox("Line", baked, key="line")
    of_line = curves.filter(pl.col("product") == line)
    show_chart(loss_by_target(of_line, line, currency))
    off = off_target_table(plan).filter(pl.col("product") == line).drop("product")
    show_table(off, **dict.fromkeys(off.columns[3:], ".2f"))
for doubt in doubts(plan):
    st.caption(plain(doubt))
show_basis(state.records())
