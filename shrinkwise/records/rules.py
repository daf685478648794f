"""From text cells to checked rows: what breaks a rule goes to the problems table."""

import polars as pl

from shrinkwise.records.tables import EVENT_KINDS, PROBLEM_SCHEMA, SCHEMAS, house_columns

_YES = ("yes", "y", "true", "1")
_NO = ("no", "n", "false", "0")

_KIND_WORDS = {
    pl.Date: ("a date", "Write it as 2026-09-28 (year-month-day)."),
    pl.Int64: ("a whole number", "Write whole units, without a unit name."),
    pl.Float64: ("an amount", "Write a plain number with a decimal point."),
    pl.Boolean: ("yes or no", "Write yes or no."),
}

_RULE_WORDS = {
    "nullability": ("must not be empty", "Fill the cell, or delete the row."),
    "min": ("is below the lowest possible value", "Correct the number."),
    "max": ("is beyond the highest possible value", "Correct the number."),
    "price_not_negative": (
        "units and net_sales must have the same sign",
        "Correct the amount; a return has negative units and negative net_sales.",
    ),
    "baked_before": (
        "bake_date must not be after date",
        "Correct the date or the bake date.",
    ),
}
_RULE_COLUMN = {"price_not_negative": "net_sales", "baked_before": "bake_date"}


def check_rows(
    cells: pl.DataFrame, table: str, lines: tuple[str, ...]
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Split text rows into good rows and findings.

    Parameters
    ----------
    cells : polars.DataFrame
        Columns of `table` as text, with `file` and `row`.
    table : str
    lines : tuple of str
        Names of the store's lines; other products are set aside.

    Returns
    -------
    good : polars.DataFrame
        Typed rows that keep every rule.
    problems : polars.DataFrame
        One row per finding; a row with two faults stands in it twice.
    """
    typed = cells.select("file", "row", *[_typed(table, name) for name in house_columns(table)])
    found = [_unreadable(cells, typed, table)]
    readable = _without(typed, found[0])
    if "product" in readable.columns:
        found.append(_unknown_lines(readable, lines))
        readable = _without(readable, found[1])
    good, failure = SCHEMAS[table].filter(readable, cast=True)
    found.append(_broken_rules(failure.details(), cells))
    return good, pl.concat(found)


def _typed(table: str, name: str) -> pl.Expr:
    cell = pl.col(name)
    kind = SCHEMAS[table].columns()[name].dtype
    if kind == pl.Date:
        return pl.coalesce(
            cell.str.to_date("%Y-%m-%d", strict=False),
            cell.str.to_datetime("%Y-%m-%d %H:%M:%S%.f", strict=False).dt.date(),
            cell.str.to_datetime("%Y-%m-%dT%H:%M:%S%.f", strict=False).dt.date(),
        ).alias(name)
    if kind == pl.Int64:
        number = cell.cast(pl.Float64, strict=False)
        whole = (number == number.round()) & (number.abs() < 1e9)
        return pl.when(whole).then(number).cast(pl.Int64, strict=False).alias(name)
    if kind == pl.Float64:
        number = cell.cast(pl.Float64, strict=False)
        return pl.when(number.is_finite()).then(number).alias(name)
    if kind == pl.Boolean:
        lower = cell.str.to_lowercase()
        yes = pl.when(lower.is_in(_YES)).then(pl.lit(True))
        return yes.when(lower.is_in(_NO)).then(pl.lit(False)).alias(name)
    if isinstance(kind, pl.Enum):
        lower = cell.str.to_lowercase()
        return pl.when(lower.is_in(EVENT_KINDS)).then(lower).alias(name)
    return cell


def _unreadable(cells: pl.DataFrame, typed: pl.DataFrame, table: str) -> pl.DataFrame:
    """Cells that hold something which is not of their column's kind."""
    found = [_problems(cells.head(0), "", "", "")]
    for name in house_columns(table):
        kind = SCHEMAS[table].columns()[name].dtype
        if kind == pl.String:
            continue
        if isinstance(kind, pl.Enum):
            words = (f"one of {', '.join(EVENT_KINDS)}", "Write one of these kinds.")
        else:
            words = _KIND_WORDS[kind.base_type()]
        bad = cells.filter(cells[name].is_not_null() & typed[name].is_null())
        found.append(_problems(bad, name, f"must be {words[0]}", words[1]))
    return pl.concat(found)


def _unknown_lines(typed: pl.DataFrame, lines: tuple[str, ...]) -> pl.DataFrame:
    bad = typed.filter(pl.col("product").is_not_null() & ~pl.col("product").is_in(lines))
    return _problems(
        bad,
        "product",
        "must be a line of store.toml",
        "Add a [[lines]] block of that name, or leave the row aside if it is no bakery line.",
    )


def _broken_rules(details: pl.DataFrame, cells: pl.DataFrame) -> pl.DataFrame:
    found = [_problems(cells.head(0), "", "", "")]
    for check in details.columns:
        column, _, rule = check.rpartition("|")
        rule = rule or check
        if details[check].dtype != pl.Enum(["valid", "invalid", "unknown"]):
            continue
        broken = details.filter(pl.col(check).cast(pl.String) == "invalid").select("file", "row")
        column = column or _RULE_COLUMN.get(rule, "")
        words = _RULE_WORDS.get(rule, (f"breaks the rule {rule}", "Correct the row."))
        bad = cells.join(broken, on=["file", "row"], how="semi")
        found.append(_problems(bad, column, *words))
    return pl.concat(found)


def _problems(rows: pl.DataFrame, column: str, rule: str, what_to_do: str) -> pl.DataFrame:
    value = pl.col(column).cast(pl.String) if column else pl.lit(None, pl.String)
    return rows.select(
        severity=pl.lit("set aside"),
        file=pl.col("file"),
        row=pl.col("row"),
        column=pl.lit(column),
        value=value,
        rule=pl.lit(rule),
        what_to_do=pl.lit(what_to_do),
    ).cast(PROBLEM_SCHEMA)  # type: ignore[arg-type]


def _without(rows: pl.DataFrame, problems: pl.DataFrame) -> pl.DataFrame:
    return rows.join(problems.select("file", "row"), on=["file", "row"], how="anti")
