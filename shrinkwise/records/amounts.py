"""Rows whose amounts could not be read at a glance: read with care, or set aside."""

import polars as pl

from shrinkwise.records.cells import MINOR, MOST_UNITS, clean_texts, key_columns
from shrinkwise.records.findings import no_findings, row_findings
from shrinkwise.records.keys import Reading
from shrinkwise.records.numbers import is_percent, number
from shrinkwise.records.rules import broken_rules
from shrinkwise.records.tables import SUMMED


def read_amounts(
    left: pl.DataFrame, groups: pl.DataFrame, typed: pl.DataFrame, how: Reading
) -> tuple[pl.DataFrame, pl.DataFrame, int]:
    """Read the amounts of single rows.

    Parameters
    ----------
    left : polars.DataFrame
        Rows as texts, from `Groups.left_over`.
    groups, typed : polars.DataFrame
        The groups to which they belong, as texts and from `read_keys`.
    how : Reading

    Returns
    -------
    good : polars.DataFrame
        row, rows (1 each), the key columns typed, and the amounts.
    problems : polars.DataFrame
    rejected : int
        Rows of good groups that are set aside here.
    """
    keys = key_columns(how.table)
    sums = [name for name in SUMMED[how.table] if name in left.columns]
    texts = _in_groups(left, groups, typed, how)
    cells = texts.select("place", "group", "file", "row", "rows", "too_wide", *sums)
    rows = cells.join(
        typed.select("group", "state", *keys), on="group", how="left", maintain_order="left"
    ).with_columns(_amount(column, how) for column in sums)
    too_wide = row_findings(
        rows.filter("too_wide"),
        "",
        "has more cells than the header",
        "Put quotation marks around a cell that holds the delimiter.",
    )
    found, faulty = [no_findings(), too_wide], [rows.filter("too_wide").select("place")]
    rows, texts = rows.filter(~pl.col("too_wide")), texts.filter(~pl.col("too_wide"))
    for column in sums:
        unreadable = texts.filter(texts[column].is_not_null() & rows[column].is_null())
        found += _unreadable(unreadable, column, how)
        faulty.append(unreadable.select("place"))
    by_place = rows.with_columns(group="place"), texts.with_columns(group="place")
    rule_problems, broken = broken_rules(*by_place, how.table, sums, how.spread_over)
    found.append(rule_problems)
    faulty.append(broken.select(place="group"))
    set_aside = pl.concat(faulty).unique()
    good = rows.filter(pl.col("state") == "good").join(set_aside, on="place", how="anti")
    of_good = typed.filter(pl.col("state") == "good")["group"]
    rejected = cells.filter(pl.col("group").is_in(of_good.implode())).height - good.height
    return _in_minor(good), pl.concat(found), rejected


def _in_groups(
    left: pl.DataFrame, groups: pl.DataFrame, typed: pl.DataFrame, how: Reading
) -> pl.DataFrame:
    """Left-over rows, stripped, with their group; without blank rows and rows left out.

    What is wrong with the amounts of a line that the store does not have is of no interest.
    """
    keys = key_columns(how.table)
    sums = [name for name in SUMMED[how.table] if name in left.columns]
    known = typed.filter(pl.col("state") != "left out")
    if "product" in keys:
        unknown = groups.filter(pl.col("product").is_not_null()).join(
            typed.filter(pl.col("product").is_null()), on="group", how="semi"
        )
        known = known.join(unknown, on="group", how="anti")
    first = groups.join(known, on="group", how="semi").select("group", *keys)
    return (
        left.with_columns(clean_texts(left, [*keys, *sums]))
        .filter(pl.any_horizontal(pl.col(*keys, *sums).is_not_null()))
        .join(
            first.unique(keys, keep="first", maintain_order=True),
            on=keys,
            nulls_equal=True,
            maintain_order="left",
        )
        .with_columns(file=pl.lit(how.file), rows=pl.lit(1, pl.Int64))
        .with_row_index("place")
    )


def _amount(column: str, how: Reading) -> pl.Expr:
    value = pl.when(~is_percent(pl.col(column))).then(number(pl.col(column), how.mark))
    in_range = value.abs() < MOST_UNITS
    if column == "units":
        whole = pl.when(in_range & (value == value.round())).then(value)
        return whole.cast(pl.Int64).alias(column)
    return pl.when(in_range).then(value).alias(column)


def _unreadable(rows: pl.DataFrame, column: str, how: Reading) -> list[pl.DataFrame]:
    percent = rows.filter(is_percent(pl.col(column)))
    others = rows.filter(~is_percent(pl.col(column)))
    kind, advice = (
        ("a whole number", "Write whole units, without a unit name.")
        if column == "units"
        else ("an amount", "Write a plain number with one decimal mark throughout.")
    )
    replace = f"Write {kind} in its place."
    return [
        row_findings(
            rows, column, rule, advice, header=how.spread_over if column == "units" else ""
        )
        for rows, rule, advice in (
            (percent, "is a percentage where a number belongs", replace),
            (others, f"must be {kind}", advice),
        )
    ]


def _in_minor(rows: pl.DataFrame) -> pl.DataFrame:
    if "net_sales" not in rows.columns:
        return rows
    return rows.with_columns((pl.col("net_sales") * MINOR).round().cast(pl.Int64))
