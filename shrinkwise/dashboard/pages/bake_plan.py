"""The bake plan: what it saves, tonight's sheet, targets by weekday, downloads."""

import streamlit as st

from shrinkwise.dashboard import state
from shrinkwise.dashboard.parts import plain, show_basis, show_chart, show_sheet, show_table
from shrinkwise.report import charts, plan_tables
from shrinkwise.report.plan_files import plan_contents
from shrinkwise.report.words import TARGETS_TITLE, doubts, interval_text, money_text

plan, sheet = state.plan(), state.sheet()
currency = plan.store.currency
saving = money_text(float(plan.saving.mean()), currency)
recommendations = plan_tables.recommendations_table(plan).sort("saving_week", descending=True)

st.title(f"Save {saving} a week", anchor=False)
st.markdown(
    plain(
        f"Expected, against the present habit over {plan.settings.weeks} weeks from {plan.start}; "
        f"in nine of ten futures {interval_text(plan.saving, currency)}."
    )
)
with st.container(horizontal=True):
    for name, content in plan_contents(plan, sheet).items():
        st.download_button(name, data=content, file_name=name, on_click="ignore", key=name)
show_sheet(sheet)
st.subheader("The store's week")
show_table(plan_tables.store_table(plan), now=",.1f", plan=",.1f")
st.subheader(TARGETS_TITLE)
show_table(plan_tables.targets_table(plan))
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
for doubt in doubts(plan):
    st.caption(plain(doubt))
show_basis(state.records())
