"""Before a line is switched: the offer against what is sold today."""

import streamlit as st

from shrinkwise.dashboard import state
from shrinkwise.dashboard.parts import plain, show_basis, show_chart, show_table
from shrinkwise.report import charts, comparison_tables, switch_charts
from shrinkwise.report.decision_page import decision_page
from shrinkwise.report.freezer import freezer_table
from shrinkwise.report.sheets import csv_text
from shrinkwise.report.study_words import study_sentences
from shrinkwise.report.verdict import CHECK_LABELS, how_sure, notes, verdict
from shrinkwise.report.words import money_text
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.scenario import scenario_text
from shrinkwise.scenarios.study import Study, SwitchStudy
from shrinkwise.tonight.sheet import CAUTIONS


def show_study(comparison: Comparison, studies: list[Study | None]) -> None:
    """Where the offer breaks even and what must be true; the sheet to sign."""
    currency, study = comparison.store.currency, studies[0]
    st.subheader("What would change it", anchor=False)
    for sentence in study_sentences(study, currency):
        st.markdown(plain(sentence))
    if isinstance(study, SwitchStudy):
        show_chart(switch_charts.swing_bars(study, currency))
        show_chart(switch_charts.offer_map(study, currency))
    st.download_button(
        "decision_sheets.html",
        data=decision_page(comparison, studies),
        file_name="decision_sheets.html",
        on_click="ignore",
        key="decision_file",
    )


def show_comparison(comparison: Comparison) -> None:
    """The answer, how sure it is, and where it comes from."""
    currency, now, offer = comparison.store.currency, comparison.now, comparison.scenarios[0]
    st.header(verdict(comparison, 0), anchor=False)
    for sentence in [*how_sure(comparison, 0), *notes(comparison, 0)]:
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
    with st.expander("Single weeks, and frozen dough by the case"):
        weeks = comparison_tables.weekly_difference_table(comparison)
        show_table(weeks.drop("scenario"), difference_week=",.2f")
        cases = freezer_table(comparison)
        if not cases.is_empty():
            show_table(cases)
    st.download_button(
        "comparison.csv",
        data=csv_text(table),
        file_name="comparison.csv",
        on_click="ignore",
        key="comparison_file",
    )
    st.caption(":material/warning: " + plain(f"{CHECK_LABELS} {CAUTIONS[0]}"))


def show_answer(text: str, source: str) -> None:
    """All there is to say of a scenario file."""
    compared = state.comparison(text, source)
    show_comparison(compared)
    show_study(compared, state.study(text, source))


records = state.records()
store = records.profile
st.title("Before a line is switched", anchor=False)
name = st.selectbox(
    "Line", [line.name for line in store.lines], key="switch_line", persist_state="session"
)
line = store.line(name)
with st.form("switch"):
    life_field, cost_field, price_field, once_field, button_field = st.columns(
        5, vertical_alignment="bottom"
    )
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
    once = once_field.number_input(
        f"One-off cost [{store.currency}]", min_value=0.0, value=0.0, step=10.0, key=f"once_{name}"
    )
    asked = button_field.form_submit_button("Compare", width="stretch")
fields = {"shelf_life_days": int(life), "dough_cost": dough_cost, "price": price}
changed = {field: value for field, value in fields.items() if value != getattr(line, field)}
file = st.file_uploader("Or a scenario file", type="toml", key="scenario_file")
if file is not None:
    show_answer(file.getvalue().decode("utf-8-sig", errors="replace"), file.name)
elif changed:
    text = scenario_text(f"{name} switched", name, changed, float(once))
    st.download_button(
        "scenario.toml", data=text, file_name="scenario.toml", on_click="ignore", key="asked_file"
    )
    show_answer(text, "This switch")
elif asked:
    st.info("Change a figure to see what a switch would do.")
else:
    st.markdown("Enter what is offered, then compare it with what is sold today.")
show_basis(records)
