"""Reading a records folder as a whole."""

import hashlib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import polars as pl

from shrinkwise.errors import RecordsError
from shrinkwise.profile.reading import PROFILE_FILE, read_store
from shrinkwise.profile.store import Store
from shrinkwise.records.doubts import doubtful
from shrinkwise.records.findings import NOTE, Suggestion
from shrinkwise.records.folder import LogFile, find_logs
from shrinkwise.records.logs import LogReader
from shrinkwise.records.tables import FILE_SCHEMA, SCHEMAS, Records, house_columns


class NothingUsableError(RecordsError):
    """No sales are left; `problems` says why, `suggestions` what might help."""

    def __init__(
        self,
        message: str,
        problems: pl.DataFrame,
        profile: Store,
        suggestions: tuple[Suggestion, ...],
    ) -> None:
        super().__init__(message)
        self.problems = problems
        self.profile = profile
        self.suggestions = suggestions


def read_records(path: str | Path) -> Records:
    """Read and check the logs and the `store.toml` of a records folder.

    Delimiter, encoding, header row, notation of numbers and dates are found out from each file;
    where a file leaves open what is meant it is not used, and the finding says what to write in
    `store.toml`.

    Parameters
    ----------
    path : str or pathlib.Path
        Folder with `store.toml`, `sales*`, and at least one of `markdowns*` and `disposals*`
        (CSV, XLSX or Parquet, one or many files each).

    Returns
    -------
    Records
        Good rows by table; everything else stands in `.problems`.

    Raises
    ------
    RecordsError
        When the folder or a required table is missing, or no sales are left.
    ProfileError
        When `store.toml` is missing or wrong.

    Examples
    --------
    >>> records = read_records("sample_data")
    >>> records.problems.height
    0
    """
    folder = Path(path)
    logs, problems = find_logs(folder)
    if not logs:
        _require_tables(folder, logs, problems)
    store = read_store(folder)
    _check_own_columns(store)
    _require_tables(folder, logs, problems)
    reader = LogReader(store)
    with ThreadPoolExecutor(1) as aside:
        files = [folder / PROFILE_FILE, *(log.path for log in logs)]
        fingerprint = aside.submit(_fingerprint, files)
        tables = {
            table: reader.table(table, [log for log in logs if log.table == table])
            for table in SCHEMAS
        }
    found = pl.concat([problems, *reader.problems])
    if tables["sales"].is_empty():
        raise NothingUsableError(
            f"No row of the sales log can be used.{_why(found, reader.sales_files)}",
            found,
            store,
            tuple(reader.suggestions),
        )
    records = Records(
        **tables,
        problems=found,
        files=pl.DataFrame(reader.files, schema=FILE_SCHEMA, orient="row"),
        suggestions=tuple(reader.suggestions),
        profile=store,
        folder=folder,
        fingerprint=fingerprint.result(),
    )
    return records.with_problems(*doubtful(records))


def _check_own_columns(store: Store) -> None:
    for table, own in store.columns.items():
        wrong = sorted(set(own) - set(house_columns(table)))
        if wrong:
            raise RecordsError(
                f"store.toml, [columns.{table}]: there is no column {wrong[0]!r}. The names on "
                f"the left are the house's: {', '.join(house_columns(table))}."
            )


def _require_tables(folder: Path, logs: list[LogFile], problems: pl.DataFrame) -> None:
    tables = {log.table for log in logs}
    seen = f" {_first_fault(problems)}" if problems.height else ""
    if not tables:
        raise RecordsError(
            f"The records folder {folder} holds no logs.{seen} Put at least sales.csv and one of "
            "markdowns.csv or disposals.csv beside store.toml (Excel and Parquet files of the "
            "same names are read too)."
        )
    if "sales" not in tables:
        raise RecordsError(
            f"{folder} has no sales log.{seen} Put the till's daily sales there as sales.csv with "
            "the columns date, product, units, net_sales."
        )
    if not tables & {"markdowns", "disposals"}:
        raise RecordsError(
            f"{folder} has neither a markdown nor a disposal log, so shrink cannot be told.{seen} "
            "Put disposals.csv (date, product, units) or markdowns.csv (date, product, units, "
            "unit_price) there."
        )


def _why(problems: pl.DataFrame, sales_files: list[str]) -> str:
    of_sales = problems.filter(
        pl.col("file").str.starts_with("sales") | pl.col("file").is_in(sales_files)
    )
    faults = of_sales.filter(pl.col("severity") != NOTE)
    if faults.is_empty():
        return " It holds a header and no rows."
    return f" The first: {_first_fault(faults)}"


def _first_fault(problems: pl.DataFrame) -> str:
    first = problems.row(0, named=True)
    row = f", row {first['row']}" if first["row"] is not None else ""
    cell = f", {first['column']} {first['value']!r}:" if first["column"] else ""
    return f"{first['file']}{row}{cell} {first['rule']}. {first['what_to_do']}"


def _fingerprint(paths: list[Path]) -> str:
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.name.encode() + b"\0")
        try:
            with path.open("rb") as file:
                digest.update(hashlib.file_digest(file, "sha256").digest())
        except OSError:
            # a file that cannot be opened is a finding, and no part of what was read
            continue
    return digest.hexdigest()
