"""From a sheet to the good rows of a table, the rows set aside, and why."""

from dataclasses import dataclass, replace

import polars as pl

from shrinkwise.profile.store import Store
from shrinkwise.records.amounts import read_amounts
from shrinkwise.records.cells import (
    MINOR,
    MINOR_DIGITS,
    clean_texts,
    grouped,
    key_columns,
    long_cells,
)
from shrinkwise.records.findings import (
    ALSO_CALLED,
    GUESS,
    NOTE,
    Suggestion,
    finding,
    no_findings,
    row_findings,
)
from shrinkwise.records.keys import Reading, matches, merged, read_keys
from shrinkwise.records.layout import Layout
from shrinkwise.records.names import LineNames
from shrinkwise.records.notation import head_mark, sheet_mark, sheet_order
from shrinkwise.records.numbers import Mark
from shrinkwise.records.sheet import Sheet
from shrinkwise.records.tables import SCHEMAS, SUMMED


@dataclass(frozen=True)
class SheetRows:
    """What a sheet holds.

    Attributes
    ----------
    good : polars.DataFrame
        Rows of the table's schema, summed.
    problems : polars.DataFrame
    rows_read, rows_set_aside : int
        Counted apart from each other and from `good`; blank rows are no rows.
    suggestions : tuple of Suggestion
    """

    good: pl.DataFrame
    problems: pl.DataFrame
    rows_read: int
    rows_set_aside: int
    suggestions: tuple[Suggestion, ...]


def read_rows(
    sheet: Sheet, layout: Layout, table: str, store: Store, names: LineNames
) -> SheetRows:
    """Read the rows of a sheet.

    Raises
    ------
    UnsettledNotationError
        When its dates or numbers read in two ways and nothing in it says which is meant.
    """
    declared: Mark | None = store.decimal_mark.get(table)  # type: ignore[call-overload]
    if sheet.typed:
        declared = "."
    mark = head_mark(sheet, layout, declared)
    groups = grouped(long_cells(sheet, layout, table), table, mark, bool(layout.spread))
    left = groups.left_over() if groups.table["n"].sum() > groups.table["plain"].sum() else None
    groups = replace(groups, table=_stripped(groups.table, left, table))
    order = sheet_order(sheet, layout, groups, table, store)
    left = groups.left_over() if groups.table["n"].sum() > groups.table["plain"].sum() else None
    mark = sheet_mark(sheet, layout, groups, left, table, declared)
    how = Reading(table, sheet.label, order, mark, names, layout.spread_over)
    typed, key_problems = read_keys(groups.table, how)
    plain = typed.filter((pl.col("state") == "good") & (pl.col("plain") > 0)).with_columns(
        rows=pl.col("plain")
    )
    problems = [_of_layout(sheet, layout, table), key_problems]
    columns = ["row", "rows", *key_columns(table), *SUMMED[table]]
    parts = [_valued(plain, table, store).select(columns)]
    rejected = 0
    if left is not None:
        more, found, rejected = read_amounts(left, groups.table, typed, how)
        parts.append(_valued(more, table, store).select(columns))
        problems.append(found)
    good = _summed(pl.concat(parts), table, sheet.label)
    guesses, suggestions = _guesses(typed, groups.table, how)
    rejected += int(typed.filter(pl.col("state") != "good")["n"].sum())
    return SheetRows(
        good=good,
        problems=pl.concat([*problems, guesses]),
        rows_read=int(groups.table["n"].sum()),
        rows_set_aside=rejected,
        suggestions=suggestions,
    )


def _stripped(groups: pl.DataFrame, left: pl.DataFrame | None, table: str) -> pl.DataFrame:
    """Texts without space around them, numbered; rows without any text are no rows.

    Rows with amounts and nothing else are one group.
    """
    keys = key_columns(table)
    clean = groups.with_columns(clean_texts(groups, keys))
    no_keys = pl.all_horizontal(pl.col(key).is_null() for key in keys)
    keyed, bare = clean.filter(~no_keys), clean.filter(no_keys)
    sums = [name for name in SUMMED[table] if name in clean.columns]
    if not bare.is_empty() and sums:
        rows = bare.filter(pl.col("plain") > 0).select("row", n="plain")
        if left is not None:
            texts = left.with_columns(clean_texts(left, [*keys, *sums])).filter(no_keys)
            held = texts.filter(pl.any_horizontal(pl.col(*sums).is_not_null()))
            rows = pl.concat([rows, held.select("row", n=pl.lit(1, pl.Int64))])
        if not rows.is_empty():
            one = bare.head(1).with_columns(
                row=pl.lit(rows["row"].min(), pl.Int64),
                n=pl.lit(rows["n"].sum(), pl.Int64),
                plain=pl.lit(bare["plain"].sum(), pl.Int64),
            )
            keyed = pl.concat([keyed, one])
    return keyed.with_row_index("group")


def _valued(rows: pl.DataFrame, table: str, store: Store) -> pl.DataFrame:
    """Sales of a sheet that has no money, at the full price of the line."""
    if "net_sales" not in SUMMED[table] or "net_sales" in rows.columns:
        return rows
    prices = {line.name: round(line.price * MINOR) for line in store.lines}
    price = pl.col("product").replace_strict(prices, return_dtype=pl.Int64)
    return rows.with_columns(net_sales=pl.col("units") * price)


def _summed(rows: pl.DataFrame, table: str, label: str) -> pl.DataFrame:
    schema = SCHEMAS[table]
    keys = [key for key in key_columns(table) if key in schema.column_names()]
    good = (
        rows.group_by(keys)
        .agg(pl.col("row").min(), pl.col("rows").sum(), pl.col(SUMMED[table]).sum())
        .with_columns(file=pl.lit(label))
    )
    if "net_sales" in SUMMED[table]:
        # polars divides by multiplying with 1 / MINOR; rounding makes it the nearest number again
        amount = (pl.col("net_sales") / MINOR).round(MINOR_DIGITS)
        good = good.with_columns(net_sales=amount)
    return schema.cast(good.select(schema.column_names()))


def _guesses(
    typed: pl.DataFrame, texts: pl.DataFrame, how: Reading
) -> tuple[pl.DataFrame, tuple[Suggestion, ...]]:
    """Names and codes that were read as a line's though they are not written so."""
    found, suggestions = [no_findings()], []
    if "product" not in texts.columns:
        return found[0], ()
    used = typed.filter(pl.col("state") == "good").select("group")
    rows = texts.join(used, on="group", how="semi").with_columns(
        file=pl.lit(how.file), rows=pl.col("n")
    )
    for text, match in matches(rows, how.names).items():
        if match.guess:
            of_text = rows.filter(pl.col("product") == text)
            found.append(
                row_findings(
                    of_text,
                    "product",
                    f"is {match.guess}",
                    f"Confirm it: add it to also_called of {match.line!r} in store.toml.",
                    GUESS,
                )
            )
            because = f"{how.file} has it in {of_text['rows'].sum()} rows"
            suggestions.append(Suggestion(ALSO_CALLED, match.line or "", text, because))
    return merged(pl.concat(found)), tuple(suggestions)


def _of_layout(sheet: Sheet, layout: Layout, table: str) -> pl.DataFrame:
    """Columns of totals in a wide sheet, and money that it does not have."""
    notes: list[pl.DataFrame] = [
        finding(
            NOTE,
            sheet.label,
            "is a column of totals",
            "Nothing: it is left out.",
            row=layout.row,
            column=header,
        )
        for header in layout.totals.values()
    ]
    if "net_sales" in SUMMED[table] and "net_sales" not in layout.columns:
        notes.append(
            finding(
                GUESS,
                sheet.label,
                "holds no money: its units are valued at the full price of store.toml",
                "Export a row for each line and day with net_sales, if prices were not always so.",
                row=layout.row,
                column="net_sales",
            )
        )
    return pl.concat([no_findings(), *notes])
