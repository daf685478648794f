"""How a sheet writes its numbers and dates: shown by its cells, said by the store, or asked."""

import polars as pl

from shrinkwise.profile.store import Store
from shrinkwise.records.cells import DATE_COLUMNS, Groups
from shrinkwise.records.content import UnreadableFileError
from shrinkwise.records.dates import (
    SLIPS,
    Order,
    OrderEvidence,
    UnsettledOrder,
    day_text,
    order_evidence,
    settled_order,
)
from shrinkwise.records.findings import Suggestion
from shrinkwise.records.layout import Layout
from shrinkwise.records.numbers import (
    Mark,
    MarkEvidence,
    UnsettledMark,
    mark_evidence,
    settled_mark,
)
from shrinkwise.records.sheet import Sheet
from shrinkwise.records.tables import SUMMED

NUMBER_COLUMNS = ("units", "net_sales", "unit_price")


class UnsettledNotationError(UnreadableFileError):
    """A sheet that reads in two ways; `suggestion` is the line that would settle it."""

    def __init__(self, rule: str, what_to_do: str, suggestion: Suggestion) -> None:
        super().__init__(rule, what_to_do)
        self.suggestion = suggestion


def head_mark(sheet: Sheet, layout: Layout, declared: Mark | None) -> Mark | None:
    """The decimal mark that the head proves; None where it is still open."""
    try:
        return settled_mark(mark_evidence(_head_numbers(sheet, layout)), declared)
    except UnsettledMark:
        return None


def _head_numbers(sheet: Sheet, layout: Layout) -> list[str]:
    places = [layout.columns[c] for c in NUMBER_COLUMNS if c in layout.columns]
    below = sheet.head[layout.row :]
    return [
        str(row[place])
        for row in below
        for place in (*places, *layout.spread)
        if place < len(row) and row[place]
    ]


def sheet_mark(
    sheet: Sheet,
    layout: Layout,
    groups: Groups,
    left: pl.DataFrame | None,
    table: str,
    declared: Mark | None,
) -> Mark | None:
    """The decimal mark of a sheet, from its head, its prices and the rows left over.

    Raises
    ------
    UnsettledNotationError
    """
    texts = _head_numbers(sheet, layout)
    if "unit_price" in groups.table.columns:
        texts += groups.table["unit_price"].drop_nulls().to_list()
    if left is not None:
        for column in (name for name in SUMMED[table] if name in left.columns):
            texts += left[column].drop_nulls().unique(maintain_order=True).to_list()
    evidence = mark_evidence(texts)
    try:
        return settled_mark(evidence, declared)
    except UnsettledMark:
        if _hardly_open(evidence, texts):
            return None
        why = _why(evidence, "can be read in two ways, and no number shows which", "numbers")
        raise _question(sheet.label, "decimal_mark", table, ".", ",", why) from None


def sheet_order(
    sheet: Sheet, layout: Layout, groups: Groups, table: str, store: Store
) -> Order | None:
    """The order of day and month in a sheet, from all its dates.

    The dates of a wide sheet speak even where nothing is filled in yet.

    Raises
    ------
    UnsettledNotationError
    """
    texts = [
        text
        for column in DATE_COLUMNS
        if column in groups.table.columns
        for text in groups.table[column].drop_nulls().unique(maintain_order=True).to_list()
    ]
    if layout.spread_over:
        texts += _wide_dates(sheet, layout)
    evidence = order_evidence(texts)
    try:
        return settled_order(evidence, store.date_order.get(table))  # type: ignore[call-overload]
    except UnsettledOrder:
        if _hardly_open(evidence, texts):
            return None
        why = _why(evidence, "is two different days, and no date shows which is meant", "dates")
        raise _question(
            sheet.label, "date_order", table, "day-month-year", "month-day-year", why
        ) from None


def _wide_dates(sheet: Sheet, layout: Layout) -> list[str]:
    """The days above or beside the cells of a wide sheet."""
    if layout.spread_over == "date":
        texts = list(layout.spread.values())
    else:
        place = layout.columns["date"]
        rows = sheet.head[layout.row :]
        texts = [text for row in rows if place < len(row) and (text := row[place])]
    return pl.select(day_text(pl.lit(pl.Series(texts, dtype=pl.String)))).to_series().to_list()


def _hardly_open(evidence: MarkEvidence | OrderEvidence, texts: list[str]) -> bool:
    """Whether so few cells are in doubt that they are set aside by themselves."""
    unproved = not any(evidence.proofs.values())
    return unproved and evidence.n_open * SLIPS <= len(set(texts))


def _why(evidence: MarkEvidence | OrderEvidence, two_ways: str, what: str) -> str:
    if any(evidence.proofs.values()):
        return f"has {what} that contradict each other in how they are written"
    return f"{evidence.open[0]!r} {two_ways}"


def _question(
    label: str, setting: str, table: str, first: str, second: str, why: str
) -> UnsettledNotationError:
    return UnsettledNotationError(
        why,
        f'Say it in store.toml under [{setting}]: {table} = "{first}" or "{second}".',
        Suggestion(setting, table, first, f"{label}: {why}", second),
    )
