"""Matching a file's own headers to the house's column names."""

import polars as pl

from shrinkwise.errors import RecordsError
from shrinkwise.profile.store import Store
from shrinkwise.records.tables import OPTIONAL_COLUMNS, house_columns


def match_columns(raw: pl.DataFrame, table: str, file: str, store: Store) -> pl.DataFrame:
    """`raw` with the columns of `table` under their house names; absent optional ones are null.

    Headers match by the house name in any case, or by the store's own name in
    `[columns.<table>]` of store.toml (house name = "own name").

    Raises
    ------
    RecordsError
        When a required column is not there.
    """
    own = store.columns.get(table, {})  # type: ignore[call-overload]
    wrong = sorted(set(own) - set(house_columns(table)))
    if wrong:
        raise RecordsError(
            f"store.toml, [columns.{table}]: there is no column {wrong[0]!r}. The names on the "
            f"left are the house's: {', '.join(house_columns(table))}."
        )
    by_lower: dict[str, list[str]] = {}
    for name in raw.columns:
        by_lower.setdefault(name.lower(), []).append(name)
    picked: list[pl.Expr] = [pl.col("file"), pl.col("row")]
    for column in house_columns(table):
        headers = by_lower.get(own.get(column, column).strip().lower(), [])
        if len(headers) > 1:
            raise RecordsError(
                f"{file} has the columns {headers[0]!r} and {headers[1]!r}, which differ by "
                "capitals alone. Rename or delete one of them."
            )
        if headers:
            picked.append(pl.col(headers[0]).alias(column))
        elif column in OPTIONAL_COLUMNS[table] and column not in own:
            picked.append(pl.lit(None, pl.String).alias(column))
        else:
            there = ", ".join(n for n in raw.columns if n not in ("file", "row")) or "none"
            raise RecordsError(
                f"{file} has no column {own.get(column, column)!r}. Its headers are: {there}. "
                f"Rename the right one to {column!r}, or name it in store.toml under "
                f'[columns.{table}]: {column} = "the header in your export".'
            )
    return raw.select(picked)
