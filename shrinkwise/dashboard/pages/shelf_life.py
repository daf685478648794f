"""How a batch leaves the shelf, and what another shelf life would change."""

import polars as pl
import streamlit as st

from shrinkwise.dashboard import state
from shrinkwise.dashboard.parts import plain, show_basis, show_chart, show_side_by_side, show_table
from shrinkwise.report import charts, kind_tables, life_tables, reduction_tables
from shrinkwise.report.life_words import (
    BY_THEMSELVES,
    not_studied,
    notes,
    worth_sentence,
    worth_title,
)
from shrinkwise.tonight.sheet import CAUTIONS

study = state.life_study()
currency = study.store.currency
names = [line.line.name for line in study.lines]

st.title(plain(worth_title(study)), anchor=False)
if worth_said := worth_sentence(study):
    st.write(plain(worth_said))
for said in not_studied(study):
    st.caption(plain(said))
line_choice, life_choice = st.columns(2)
name = line_choice.selectbox("Line", names, key="life_line", persist_state="session")
line = study.lines[names.index(name)]
lives = [option.line.shelf_life_days for option in line.options]
life = life_choice.radio(
    "Shelf life [days]",
    lives,
    index=lives.index(line.line.shelf_life_days),
    horizontal=True,
    key=f"life_of_{name}",
)
option = line.option(life)
assert option is not None
of_line = life_tables.shelf_life_table(study).filter(pl.col("product") == name)

worth, curve = st.columns(2)
with worth:
    show_chart(charts.loss_by_life(of_line, name, currency))
with curve:
    simulated = option.curve(option.best)
    if simulated.is_empty():
        st.info("The best plan for that shelf life is not to bake the line.")
    else:
        show_chart(charts.sell_through_curve(simulated, name, life))
        st.caption("From the model, under the best plan for that shelf life.")
show_side_by_side(
    of_line,
    by="shelf_life_days",
    loss_week_best=",.2f",
    loss_week_habit=",.2f",
    loss_week_difference=",.2f",
    loss_week_difference_se=".2f",
    extra_dough_cost=".3f",
    extra_dough_cost_se=".3f",
    waste_units_week_best=".1f",
    waste_units_week_habit=".1f",
    labour_hours_week_best=".1f",
    bakes_week_best=".1f",
    batch_units_best=".1f",
    in_stock_pct_best=".1f",
    days_left_best=".1f",
    days_left_habit=".1f",
)
for sentence in notes(line):
    st.warning(plain(sentence))
if line.batches is None or line.batches.sell_through.is_empty():
    reason = line.silence or "there are no batches in them"
    st.info(plain(f"The logs cannot tell at which age this line sells: {reason}."))
else:
    st.subheader("What the logs show at the present shelf life")
    logged = line.batches.sell_through
    show_chart(charts.sell_through_curve(logged, name, line.line.shelf_life_days))
    st.caption(
        f"From the logs: {len(line.batches.dates)} batches. Sales are given to batches by what the "
        "disposal log, the bake dates and the reduced sales allow; intervals of 90% come from "
        "resampling weeks of batches."
    )
    show_table(life_tables.with_intervals(logged))
st.subheader("Who comes to the shelf")
st.caption(kind_tables.READ_AS)
of_name = pl.col("product") == name
kinds = kind_tables.kinds_table(study).filter(of_name).drop("product")
show_table(kind_tables.kinds_shown(kinds))
if line.markdown:
    reductions = reduction_tables.reductions_table(study).filter(of_name).drop("product")
    show_table(reduction_tables.reductions_shown(reductions))
if said := reduction_tables.reduction_sentence(line, currency):
    st.write(plain(said))
steps = study.by_extra_days()
if not steps.is_empty():
    st.subheader("All lines that have every step, by days more or less")
    st.caption(plain(BY_THEMSELVES))
    show_side_by_side(
        life_tables.steps_shown(steps),
        by="extra_days",
        saving_week="",
        extra_dough_cost=".3f",
        loss_best=",.0f",
        loss_habit=",.0f",
        waste_units_best=".1f",
        waste_units_habit=".1f",
        labour_hours_best=".1f",
        bakes_best=".1f",
        in_stock_pct_best=".1f",
    )
st.caption(f":material/warning: {plain(CAUTIONS[0])}")
show_basis(state.records())
