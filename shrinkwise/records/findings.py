"""Findings: what was found in the logs, where, and what to do about it."""

from dataclasses import dataclass

import polars as pl

NOT_READ = "not read"
SET_ASIDE = "set aside"
REPLACED = "replaced"
GUESS = "guess"
DOUBT = "doubt"
NOTE = "note"

SEVERITIES = {
    NOT_READ: "a file or sheet that could not be used at all",
    SET_ASIDE: "rows with a fault; they are not used",
    GUESS: "rows used on a guess that wants a yes",
    DOUBT: "rows used, though they look wrong",
    REPLACED: "rows that a later file holds again; the later file is used",
    NOTE: "rows, sheets or files that are rightly left out",
}
"""Severities from the worst down, each with what it means."""

WANT_A_LOOK = (NOT_READ, SET_ASIDE, GUESS, DOUBT)
"""Severities after which a command ends with exit code 1."""

PROBLEM_SCHEMA: dict[str, type[pl.DataType]] = {
    "severity": pl.String,
    "file": pl.String,
    "row": pl.Int64,
    "column": pl.String,
    "value": pl.String,
    "rule": pl.String,
    "what_to_do": pl.String,
    "rows": pl.Int64,
}
"""`row` is the first row of the finding as a spreadsheet counts it, `rows` how many there are."""

ALSO_CALLED, OF_LINE = "also_called", "lines"
"""Sections of a `Suggestion` that is for the block of one line."""

MOST_LISTED = 1000
"""Rows with the same fault in the same column beyond these share one last finding."""


@dataclass(frozen=True)
class Suggestion:
    """A setting of store.toml that would answer a question of the reader.

    Attributes
    ----------
    section : str
        The section in which it stands, such as columns.sales; `ALSO_CALLED` for another name
        of the line `key`, `OF_LINE` for a setting of it.
    key, value : str
    because : str
    alternative : str
        Another value between which and the first only the store can choose.
    """

    section: str
    key: str
    value: str
    because: str
    alternative: str = ""


def no_findings() -> pl.DataFrame:
    """The empty table of findings."""
    return pl.DataFrame(schema=PROBLEM_SCHEMA)


def finding(
    severity: str,
    file: str,
    rule: str,
    what_to_do: str,
    *,
    row: int | None = None,
    column: str = "",
    value: str | None = None,
    rows: int = 0,
) -> pl.DataFrame:
    """One finding as a table of one row."""
    cells = [severity, file, row, column, value, rule, what_to_do, rows]
    return pl.DataFrame([cells], schema=PROBLEM_SCHEMA, orient="row")


def doubt(rows: pl.DataFrame, rule: str, what_to_do: str, column: str, value: str) -> pl.DataFrame:
    """One doubt about some rows of a log, placed at the first of them.

    Parameters
    ----------
    rows : polars.DataFrame
        With `file`, `row` and `rows`, at least one.
    rule, what_to_do, column, value : str
    """
    first = rows.sort("file", "row").row(0, named=True)
    return finding(
        DOUBT,
        first["file"],
        rule,
        what_to_do,
        row=first["row"],
        column=column,
        value=value,
        rows=int(rows["rows"].sum()),
    )


def row_findings(
    rows: pl.DataFrame,
    column: str,
    rule: str,
    what_to_do: str,
    severity: str = SET_ASIDE,
    *,
    cells: str | None = None,
    header: str = "",
) -> pl.DataFrame:
    """A finding for each of `rows`, which have `file`, `row`, `rows` and the cells as texts.

    Parameters
    ----------
    rows : polars.DataFrame
    column : str
        Name of the column at fault, "" for the row as a whole.
    rule, what_to_do, severity : str
    cells : str, optional
        Column of `rows` that holds the text; `column` if left out.
    header : str, optional
        Column of `rows` that says under which header of a wide sheet each text stands.
    """
    if rows.is_empty():
        return no_findings()
    source = cells or column
    found = rows.select(
        severity=pl.lit(severity),
        file=pl.col("file"),
        row=pl.col("row"),
        column=pl.col(header) if header else pl.lit(column),
        value=pl.col(source).cast(pl.String) if source else pl.lit(None, pl.String),
        rule=pl.lit(rule),
        what_to_do=pl.lit(what_to_do),
        rows=pl.col("rows"),
    ).cast(PROBLEM_SCHEMA)  # type: ignore[arg-type]
    return _capped(found)


def _capped(found: pl.DataFrame) -> pl.DataFrame:
    if found.height <= MOST_LISTED:
        return found
    listed, rest = found[: MOST_LISTED - 1], found[MOST_LISTED - 1 :]
    last = rest.head(1).with_columns(
        value=pl.lit(f"and {rest.height - 1} more like these"),
        rows=pl.lit(rest["rows"].sum(), pl.Int64),
    )
    return pl.concat([listed, last])


def by_rule(problems: pl.DataFrame) -> pl.DataFrame:
    """Findings counted by severity, file, column and rule, the worst and the most first.

    Returns
    -------
    polars.DataFrame
        severity, file, column, rule, findings, rows.
    """
    order = pl.Enum(list(SEVERITIES))
    return (
        problems.group_by("severity", "file", "column", "rule", maintain_order=True)
        .agg(findings=pl.len(), rows=pl.col("rows").sum())
        .sort(
            pl.col("severity").cast(order),
            pl.col("rows"),
            descending=[False, True],
            maintain_order=True,
        )
    )
