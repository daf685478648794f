"""What the cells of a row mean, amounts left out: day, line, hour, yes or no, kind of event."""

from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from shrinkwise.records.cells import DATE_COLUMNS, key_columns
from shrinkwise.records.dates import Order, hour_of, read_dates
from shrinkwise.records.findings import NOTE, SET_ASIDE, no_findings, row_findings
from shrinkwise.records.headers import is_total, normal
from shrinkwise.records.names import LineNames, Match
from shrinkwise.records.numbers import Mark, is_percent, number
from shrinkwise.records.rules import broken_rules
from shrinkwise.records.tables import EVENT_KINDS, SCHEMAS

_YES = ("yes", "y", "true", "1", "x", "ja", "j", "wahr", "oui", "o", "vrai", "si", "s", "verdadero")
_NO = ("no", "n", "false", "0", "nein", "falsch", "non", "faux", "falso")
_KINDS = {
    **{kind: kind for kind in EVENT_KINDS},
    **dict.fromkeys(("feiertag", "jour ferie", "ferie", "festivo"), "holiday"),
    **dict.fromkeys(
        ("schulferien", "vacances scolaires", "vacaciones escolares"), "school holiday"
    ),
    **dict.fromkeys(("aktion", "angebot", "promo", "promocion", "oferta"), "promotion"),
    **dict.fromkeys(("fest", "evenement local", "evento local"), "local event"),
    **dict.fromkeys(("geschlossen", "ferme", "fermeture", "cerrado"), "closed"),
}


@dataclass(frozen=True)
class Reading:
    """How the cells of a sheet are to be read.

    Attributes
    ----------
    table, file : str
    order : Order or None
    mark : Mark or None
    names : LineNames
    spread_over : str
        "date" or "product" for a wide sheet, "" for a long one.
    """

    table: str
    file: str
    order: Order | None
    mark: Mark | None
    names: LineNames
    spread_over: str = ""


def read_keys(groups: pl.DataFrame, how: Reading) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Type the key columns of grouped rows and say what is wrong with them.

    Parameters
    ----------
    groups : polars.DataFrame
        As in `Groups.table`, texts stripped.
    how : Reading

    Returns
    -------
    typed : polars.DataFrame
        `groups` with its key columns typed, `state` ("good", "faulty", "left out") and `guess`.
    problems : polars.DataFrame
        One finding for each faulty value; faulty values of rows that are left out are none.
    """
    keys = key_columns(how.table)
    texts = groups.with_columns(file=pl.lit(how.file), rows=pl.col("n"))
    typed = texts.with_columns(_typed(texts, column, how) for column in keys)
    typed, found = _left_out(typed, texts, how)
    kept = typed.filter(pl.col("state") != "left out").select("group")
    texts = texts.join(kept, on="group", how="semi")
    rows = typed.join(kept, on="group", how="semi")
    findings, faulty_rows = [found], []
    for column in keys:
        unreadable = texts.filter(texts[column].is_not_null() & rows[column].is_null())
        if not unreadable.is_empty():
            findings += _unreadable(unreadable, column, how)
            faulty_rows.append(unreadable.select("group"))
    schema_findings, broken = broken_rules(rows, texts, how.table, keys)
    findings.append(schema_findings)
    faulty = pl.concat([broken, *faulty_rows]).unique()
    typed = typed.with_columns(
        state=pl.when(pl.col("group").is_in(faulty["group"].implode()))
        .then(pl.lit("faulty"))
        .otherwise("state")
    )
    return typed, merged(pl.concat(findings))


def merged(findings: pl.DataFrame) -> pl.DataFrame:
    """Findings about the same value as one, at its first row."""
    same = [name for name in findings.columns if name not in ("row", "rows")]
    return (
        findings.group_by(same, maintain_order=True)
        .agg(pl.col("row").min(), pl.col("rows").sum())
        .select(findings.columns)
        .sort("row", maintain_order=True)
    )


def _typed(texts: pl.DataFrame, column: str, how: Reading) -> pl.Expr:
    cell = pl.col(column)
    if column in DATE_COLUMNS:
        days = read_dates(_distinct(texts[column]), how.order)
        return cell.replace_strict(days, default=None, return_dtype=pl.Date)
    if column == "product":
        lines = {text: match.line for text, match in matches(texts, how.names).items()}
        return cell.replace_strict(lines, default=None, return_dtype=pl.String)
    if column == "hour":
        return hour_of(cell)
    if column == "unit_price":
        return pl.when(~is_percent(cell)).then(number(cell, how.mark)).alias(column)
    if column in ("reduced", "void"):
        words = {text: normal(text) for text in _distinct(texts[column])}
        said = {t: True for t, w in words.items() if w in _YES}
        said |= {t: False for t, w in words.items() if w in _NO}
        return cell.replace_strict(said, default=None, return_dtype=pl.Boolean)
    if column == "kind":
        kinds = {text: _KINDS.get(normal(text)) for text in _distinct(texts[column])}
        return cell.replace_strict(kinds, default=None, return_dtype=pl.Enum(EVENT_KINDS))
    return cell


def matches(texts: pl.DataFrame, names: LineNames) -> dict[str, Match]:
    """What each distinct product text means."""
    return {text: names.match(text) for text in _distinct(texts["product"])}


def _distinct(texts: pl.Series) -> list[str]:
    return texts.drop_nulls().unique(maintain_order=True).to_list()


def _left_out(
    typed: pl.DataFrame, texts: pl.DataFrame, how: Reading
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Rows of totals and voided rows: no fault of theirs, but no log rows either."""
    word = pl.lit(None, pl.String)
    for column in ("product", "date"):
        said = [text for text in _distinct(texts[column]) if is_total(text)]
        if column == "product":
            said = [text for text in said if not how.names.knows(text)]
        word = pl.coalesce(word, pl.when(pl.col(column).is_in(said)).then(pl.col(column)))
    void = typed["void"].fill_null(False) if "void" in typed.columns else pl.lit(False)
    marked = texts.with_columns(_total=word, _void=void)
    is_row_of_totals = pl.col("_total").is_not_null()
    found = [no_findings()]
    found.append(
        row_findings(
            marked.filter(is_row_of_totals),
            "",
            "is a row of totals",
            "Nothing: it is left out.",
            NOTE,
            cells="_total",
        )
    )
    found.append(
        row_findings(
            marked.filter(pl.col("_void") & ~is_row_of_totals),
            "",
            "was voided at the till",
            "Nothing: it is left out.",
            NOTE,
            cells="product",
        )
    )
    out = marked.select(is_row_of_totals | pl.col("_void")).to_series()
    state = pl.when(out).then(pl.lit("left out")).otherwise(pl.lit("good"))
    return typed.with_columns(state=state), pl.concat(found)


def _unreadable(rows: pl.DataFrame, column: str, how: Reading) -> Iterable[pl.DataFrame]:
    if column == "product":
        bad = [t for t in _distinct(rows[column]) if how.names.bad_gtin(t)]
        yield row_findings(
            rows.filter(pl.col(column).is_in(bad)),
            column,
            "has a wrong check digit",
            "Correct the GTIN; but for its last digit it is a line's.",
        )
        rows = rows.filter(~pl.col(column).is_in(bad))
    if column == "unit_price":
        percent = pl.Series(rows.select(is_percent(pl.col(column)))[column])
        yield row_findings(
            rows.filter(percent),
            column,
            "is a percentage where an amount belongs",
            "Write the price of a unit in money.",
        )
        rows = rows.filter(~percent)
    yield row_findings(rows, column, *_words(column, how), SET_ASIDE)


def _words(column: str, how: Reading) -> tuple[str, str]:
    kind = SCHEMAS[how.table].columns()[column].dtype if column != "void" else pl.Boolean()
    if column == "product":
        return (
            "must be a line of store.toml",
            "Add it to also_called of its line, or a [[lines]] block, or leave the row aside if "
            "it is no bakery line.",
        )
    if column in DATE_COLUMNS:
        other = f", or as {how.order} like the others" if how.order else ""
        return "must be a date", f"Write it as 2026-09-28{other}."
    if column == "hour":
        return "must be an hour of the day, 0 to 23", "Write the full hour, such as 14."
    if column == "kind":
        return f"must be one of {', '.join(EVENT_KINDS)}", "Write one of these kinds."
    if kind == pl.Boolean:
        return "must be yes or no", "Write yes or no."
    return "must be an amount", "Write a plain number with one decimal mark throughout."
