"""Before a line is switched: the offer against what is sold today."""

import streamlit as st

from shrinkwise.dashboard import state
from shrinkwise.dashboard.parts import plain, show_basis, show_chart, show_table
from shrinkwise.report import charts, comparison_tables
from shrinkwise.report.sheets import csv_text
from shrinkwise.report.verdict import (
    CHECK_LABELS,
    confidence,
    sold_shorter,
    unchanged_habit,
    verdict,
)
from shrinkwise.report.words import money_text
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.tonight.sheet import CAUTIONS


def show_comparison(comparison: Comparison) -> None:
    """The answer, how sure it is, and where it comes from."""
    currency, now, offer = comparison.store.currency, comparison.now, comparison.scenarios[0]
    st.header(verdict(comparison, 0), anchor=False)
    said = [confidence(comparison, 0), unchanged_habit(comparison, 0)]
    for sentence in [*said, *sold_shorter(comparison, 0)]:
        st.markdown(plain(sentence))
    parts = comparison_tables.result_parts_table(offer, now)
    largest = parts.row(int(parts["difference"].abs().arg_max() or 0), named=True)
    title = f"{largest['part']} makes the largest change: " + money_text(
        largest["difference"], currency
    )
    show_chart(charts.difference_by_part(parts, currency, title))
    table = comparison_tables.comparison_table(comparison)
    numbers = dict.fromkeys(comparison_tables.NUMBERS, ",.2f")
    show_table(comparison_tables.comparison_measures(comparison, 0, False), **numbers)
    st.download_button(
        "comparison.csv",
        data=csv_text(table),
        file_name="comparison.csv",
        on_click="ignore",
        key="comparison_file",
    )
    st.caption(":material/warning: " + plain(f"{CHECK_LABELS} {CAUTIONS[0]}"))


records = state.records()
store = records.profile
st.title("Before a line is switched", anchor=False)
name = st.selectbox(
    "Line", [line.name for line in store.lines], key="switch_line", persist_state="session"
)
line = store.line(name)
with st.form("switch"):
    life_field, cost_field, price_field, button_field = st.columns(4, vertical_alignment="bottom")
    life = life_field.number_input(
        "Shelf life [days]", 1, 30, line.shelf_life_days, key=f"life_{name}"
    )
    dough_cost = cost_field.number_input(
        f"Dough cost [{store.currency} a unit]",
        min_value=0.0,
        value=line.dough_cost,
        step=0.01,
        key=f"dough_cost_{name}",
    )
    price = price_field.number_input(
        f"Price [{store.currency} a unit]",
        min_value=0.01,
        value=line.price,
        step=0.01,
        key=f"price_{name}",
    )
    asked = button_field.form_submit_button("Compare", width="stretch")
offer = (("shelf_life_days", int(life)), ("dough_cost", dough_cost), ("price", price))
changed = tuple((field, value) for field, value in offer if value != getattr(line, field))
if changed:
    show_comparison(state.comparison(f"{name} switched", name, changed))
elif asked:
    st.info("Change a figure to see what a switch would do.")
else:
    st.markdown("Enter what is offered, then compare it with what is sold today.")
show_basis(records)
