"""Reading a records folder as a whole."""

import hashlib
from pathlib import Path

import polars as pl

from shrinkwise.errors import RecordsError
from shrinkwise.profile.reading import PROFILE_FILE, read_store
from shrinkwise.records.columns import match_columns
from shrinkwise.records.raw import find_logs, read_raw
from shrinkwise.records.rules import check_rows
from shrinkwise.records.tables import PROBLEM_SCHEMA, SCHEMAS, Records, house_columns

FILE_SCHEMA = {
    "file": pl.String,
    "table": pl.String,
    "rows_read": pl.Int64,
    "rows_used": pl.Int64,
    "rows_set_aside": pl.Int64,
}


def read_records(path: str | Path) -> Records:
    """Read and check the logs and the `store.toml` of a records folder.

    Parameters
    ----------
    path : str or pathlib.Path
        Folder with `store.toml`, `sales*`, and at least one of `markdowns*` and `disposals*`
        (CSV, XLSX or Parquet, one or many files each).

    Returns
    -------
    Records
        Good rows by table; every other row stands in `.problems`.

    Raises
    ------
    RecordsError
        When the folder, a required table or a required column is missing, or nothing is left.
    ProfileError
        When `store.toml` is missing or wrong.

    Examples
    --------
    >>> records = read_records("sample_data")
    >>> records.problems.height
    0
    """
    folder = Path(path)
    logs = find_logs(folder)
    store = read_store(folder)
    _require_tables(folder, logs)
    lines = tuple(line.name for line in store.lines)
    good: dict[str, pl.DataFrame] = {}
    problems = [pl.DataFrame(schema=PROBLEM_SCHEMA)]
    files: list[dict[str, str | int]] = []
    for table, paths in logs.items():
        parts: list[pl.DataFrame] = [SCHEMAS[table].create_empty()]
        for file in paths:
            cells = match_columns(read_raw(file), table, file.name, store)
            rows, found = check_rows(cells, table, lines)
            parts.append(rows)
            problems.append(found)
            aside = found.select("file", "row").n_unique() if found.height else 0
            files.append(
                {
                    "file": file.name,
                    "table": table,
                    "rows_read": cells.height,
                    "rows_used": rows.height,
                    "rows_set_aside": aside,
                }
            )
        good[table] = pl.concat(parts).sort(
            ["date", *(c for c in ("product",) if c in house_columns(table)), "file", "row"]
        )
    found = pl.concat(problems)
    if good["sales"].is_empty():
        first = found.row(0, named=True) if found.height else None
        why = (
            f" The first: {first['file']}, row {first['row']}, {first['column']} "
            f"{first['value']!r}: {first['rule']}."
            if first
            else " It holds a header and no rows."
        )
        raise RecordsError(f"No row of the sales log can be used.{why}")
    return Records(
        **good,
        problems=found,
        files=pl.DataFrame(files, schema=FILE_SCHEMA),
        profile=store,
        folder=folder,
        fingerprint=_fingerprint(
            [folder / PROFILE_FILE, *(path for paths in logs.values() for path in paths)]
        ),
    )


def _require_tables(folder: Path, logs: dict[str, list[Path]]) -> None:
    if not logs["sales"]:
        raise RecordsError(
            f"{folder} has no sales log. Put the till's daily sales there as sales.csv with the "
            "columns date, product, units, net_sales."
        )
    if not logs["markdowns"] and not logs["disposals"]:
        raise RecordsError(
            f"{folder} has neither a markdown nor a disposal log, so shrink cannot be told. Put "
            "disposals.csv (date, product, units) or markdowns.csv (date, product, units, "
            "unit_price) there."
        )


def _fingerprint(paths: list[Path]) -> str:
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()
