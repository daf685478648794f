"""Log files as they stand: every cell a text, every row with its place."""

from pathlib import Path

import fastexcel
import polars as pl

from shrinkwise.errors import RecordsError
from shrinkwise.records.tables import SCHEMAS

ENDINGS = (".csv", ".xlsx", ".parquet")


def find_logs(folder: Path) -> dict[str, list[Path]]:
    """The log files of each table, in the order of their names.

    Raises
    ------
    RecordsError
        When the folder is not there or holds no log.
    """
    if not folder.is_dir():
        found = "is a file" if folder.exists() else "is not there"
        raise RecordsError(
            f"The records folder {folder} {found}. Name the folder that holds store.toml and "
            "the logs (sales.csv, disposals.csv, ...)."
        )
    logs: dict[str, list[Path]] = {table: [] for table in SCHEMAS}
    for path in sorted(folder.iterdir()):
        table = next((table for table in SCHEMAS if path.name.lower().startswith(table)), None)
        if table and path.suffix.lower() in ENDINGS and path.is_file():
            logs[table].append(path)
    if not any(logs.values()):
        raise RecordsError(
            f"The records folder {folder} holds no logs. Put at least sales.csv and one of "
            "markdowns.csv or disposals.csv beside store.toml (Excel and Parquet files of the "
            "same names are read too)."
        )
    return logs


def read_raw(path: Path) -> pl.DataFrame:
    """One log file, all cells as text, with its `file` name and `row` (the header is row 1).

    Raises
    ------
    RecordsError
        When the file cannot be read at all.
    """
    try:
        match path.suffix.lower():
            case ".csv":
                frame = pl.read_csv(path, infer_schema=False, encoding="utf8")
            case ".xlsx":
                sheet = fastexcel.read_excel(path).load_sheet(0, dtypes="string")
                frame = sheet.to_polars()
            case _:
                frame = pl.read_parquet(path).cast(pl.String)
    except pl.exceptions.NoDataError:
        raise RecordsError(
            f"{path.name} is empty. Export it again, or take it out of the folder."
        ) from None
    except (pl.exceptions.PolarsError, fastexcel.FastExcelError, OSError) as error:
        first_line = str(error).strip().splitlines()[0]
        raise RecordsError(
            f"{path.name} cannot be read as {path.suffix[1:].upper()} ({first_line}). Export it "
            "again as a table with one header row, comma-separated and UTF-8 if it is a CSV."
        ) from error
    headers = [name.strip() for name in frame.columns]
    twice = sorted({name for name in headers if headers.count(name) > 1})
    if twice:
        raise RecordsError(
            f"{path.name} has more than one column {twice[0]!r}. Rename or delete all but one."
        )
    frame.columns = headers
    # a till's own columns of these names would stand in the way of where a row was read
    frame = frame.drop("file", "row", strict=False)
    frame = frame.with_columns(pl.all().str.strip_chars().replace("", None))
    return frame.with_row_index("row", offset=2).with_columns(
        pl.col("row").cast(pl.Int64), file=pl.lit(path.name)
    )
