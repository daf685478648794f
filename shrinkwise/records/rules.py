"""The rules that typed rows must keep, and the words for a broken one."""

import polars as pl

from shrinkwise.records.findings import no_findings, row_findings
from shrinkwise.records.tables import SCHEMAS, house_columns

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


def broken_rules(
    typed: pl.DataFrame,
    texts: pl.DataFrame,
    table: str,
    columns: list[str],
    header: str = "",
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Check typed rows against the rules of their table.

    Parameters
    ----------
    typed : polars.DataFrame
        `group`, file, row, rows and the columns of `table`. A cell that could not be read is
        null; it is a finding of the reader, not of a rule.
    texts : polars.DataFrame
        The same rows as they stand, in the same order.
    table : str
    columns : list of str
        Rules about other columns are not asked.
    header : str, optional
        Column of `texts` with the header under which the units of a wide sheet stand.

    Returns
    -------
    problems : polars.DataFrame
    broken : polars.DataFrame
        `group` of the rows that break a rule.
    """
    schema = SCHEMAS[table]
    # money that a sheet does not hold breaks no rule
    absent = [name for name in house_columns(table) if name not in typed.columns]
    numbered = typed.with_row_index("in_order").with_columns(pl.lit(0).alias(n) for n in absent)
    rows = numbered.select("file", "row", "rows", *house_columns(table), "in_order")
    # the place stands for the row, since several rows of a wide sheet have the same number
    _, failure = schema.filter(
        rows.with_columns(row=pl.col("in_order").cast(pl.Int64)).drop("in_order"), cast=True
    )
    found, broken = [no_findings()], [typed.head(0).select("group")]
    details = failure.details() if len(failure) else pl.DataFrame()
    verdicts = pl.Enum(["valid", "invalid", "unknown"])
    for check in details.columns:
        column, _, rule = check.rpartition("|")
        rule = rule or check
        if details[check].dtype != verdicts:
            continue
        column = column or _RULE_COLUMN.get(rule, "")
        if column not in columns:
            continue
        places = details["row"].filter(details[check] == "invalid")
        if places.is_empty():
            continue
        bad = texts[places.to_list()]
        if rule == "nullability":
            # what is there and could not be read has been found already
            bad = bad.filter(pl.col(column).is_null())
        words = _RULE_WORDS.get(rule, (f"breaks the rule {rule}", "Correct the row."))
        of_header = header if column == "units" else ""
        found.append(row_findings(bad, column, *words, header=of_header))
        broken.append(bad.select("group"))
    return pl.concat(found), pl.concat(broken)
