"""The shrinkwise dashboard: its pages, in the order of the week's work."""

from pathlib import Path

import streamlit as st

import shrinkwise.dashboard
from shrinkwise.errors import ShrinkwiseError

PAGES = Path(shrinkwise.dashboard.__file__).parent / "pages"

st.set_page_config(page_title="shrinkwise", layout="wide")
page = st.navigation(
    [
        st.Page(PAGES / "last_week.py", title="Last week", default=True),
        st.Page(PAGES / "bake_plan.py", title="Bake plan"),
        st.Page(PAGES / "shelf_life.py", title="Shelf life"),
        st.Page(PAGES / "line_switch.py", title="Line switch"),
    ],
    position="top",
)
try:
    page.run()
except ShrinkwiseError as error:
    st.error(str(error).replace("$", r"\$"))
