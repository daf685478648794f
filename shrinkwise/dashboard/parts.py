"""Pieces that more than one page shows."""

import re

import polars as pl
import streamlit as st

from shrinkwise.records.tables import Records
from shrinkwise.report import charts
from shrinkwise.report.cells import cell_text
from shrinkwise.report.labels import label
from shrinkwise.report.sheet_words import sheet_notes, sheet_title
from shrinkwise.report.words import look_text
from shrinkwise.tonight.sheet import CAUTIONS, PanUpSheet

ROW_HEIGHT = 35


def plain(text: str) -> str:
    """Text from the logs, so that Markdown shows it as it stands."""
    return re.sub(r"([\\`*_{}\[\]<>#+\-.!|$~:])", r"\\\1", text)


def show_chart(chart: charts.Chart) -> None:
    """A chart over the whole width, below its title, which is its text alternative too."""
    title, drawing = charts.untitled(chart)
    st.markdown(f"**{plain(title)}**")
    st.altair_chart(drawing, width="stretch", alt=title)


def show_side_by_side(table: pl.DataFrame, by: str, **formats: str) -> None:
    """A table turned on its side: a column per value of `by`, a row per measure of `formats`."""
    columns = {label(by): [label(name) for name in formats]}
    for row in table.iter_rows(named=True):
        columns[str(row[by])] = [
            cell_text(row[name], number_format) for name, number_format in formats.items()
        ]
    show_cells(pl.DataFrame(columns), right=[name for name in columns if name != label(by)])


def show_table(table: pl.DataFrame, **formats: str) -> None:
    """A whole table, without a scroll bar of its own.

    Parameters
    ----------
    table : polars.DataFrame
        Text stands left, everything else right; an empty cell is a dash.
    **formats : str
        Python format of a column's numbers, such as ".1f"; two decimals where none is named.
    """
    cells = [
        pl.Series(label(name), [cell_text(value, formats.get(name, "")) for value in table[name]])
        for name in table.columns
    ]
    right = [label(name) for name, kind in table.schema.items() if kind != pl.String]
    show_cells(pl.DataFrame(cells), right)


def show_cells(cells: pl.DataFrame, right: list[str]) -> None:
    """Cells that are text already; the columns of `right` stand to the right."""
    config = {
        name: st.column_config.TextColumn(alignment="right" if name in right else "left")
        for name in cells.columns
    }
    height = ROW_HEIGHT * (cells.height + 1) + 3
    st.dataframe(cells, hide_index=True, width="stretch", height=height, column_config=config)


def show_sheet(sheet: PanUpSheet, currency: str) -> None:
    """Tonight's sheet with its cautions."""
    st.subheader(sheet_title(sheet))
    if sheet.is_open:
        st.caption(sheet.basis)
        show_table(sheet.shown)
        for note in sheet_notes(sheet, currency):
            st.caption(plain(note))
    else:
        st.info("The store is closed that day: nothing to pan up.")
    for caution in CAUTIONS:
        st.caption(f":material/warning: {plain(caution)}")


def show_basis(records: Records) -> None:
    """What the figures rest on: findings in the records and settings assumed."""
    wanted = records.want_a_look
    if not wanted.is_empty():
        with st.expander(plain(look_text(records))):
            st.dataframe(wanted, hide_index=True, width="stretch")
    if records.profile.assumed:
        st.caption(plain(f"Assumed, not set in store.toml: {', '.join(records.profile.assumed)}."))
