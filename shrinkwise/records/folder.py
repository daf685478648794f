"""The records folder: which files are logs, and which only look like one."""

import re
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from shrinkwise.errors import RecordsError
from shrinkwise.records.findings import NOT_READ, NOTE, finding, no_findings
from shrinkwise.records.tables import SCHEMAS

DELIMITED = (".csv", ".tsv", ".txt")
ENDINGS = (*DELIMITED, *(f"{ending}.gz" for ending in DELIMITED), ".xlsx", ".parquet")
_OTHER_TABLES = (".xls", ".xlsm", ".xlsb", ".ods", ".numbers", ".zip", ".json", ".xml", ".html")
"""Endings of files that may well hold a log, in a form that is not read."""


@dataclass(frozen=True)
class LogFile:
    """A file whose name begins with the name of a table."""

    path: Path
    table: str
    ending: str


def find_logs(folder: Path) -> tuple[list[LogFile], pl.DataFrame]:
    """The log files in the order of tables and names, and what looks like one and is none.

    Raises
    ------
    RecordsError
        When the folder is not there or cannot be listed.
    """
    if not folder.is_dir():
        found = "is a file" if folder.exists() else "is not there"
        raise RecordsError(
            f"The records folder {folder} {found}. Name the folder that holds store.toml and "
            "the logs (sales.csv, disposals.csv, ...)."
        )
    try:
        paths = sorted(folder.iterdir(), key=_in_order)
    except OSError as error:
        raise RecordsError(
            f"The records folder {folder} cannot be opened ({error.strerror}). Ask for the right "
            "to read it, or copy it to a place of your own."
        ) from error
    logs: list[LogFile] = []
    problems = [no_findings()]
    for path in paths:
        name = path.name.lower()
        table = next((table for table in SCHEMAS if name.startswith(table)), None)
        if table is None:
            continue
        ending = next((ending for ending in ENDINGS if name.endswith(ending)), None)
        fault = _fault(path, folder, ending)
        if fault is not None:
            problems.append(fault)
        elif ending is not None:
            logs.append(LogFile(path, table, ending))
    order = list(SCHEMAS)
    return sorted(logs, key=lambda log: order.index(log.table)), pl.concat(problems)


def _in_order(path: Path) -> tuple[list[str | int], str]:
    """Numbers by their size ("sales 9" before "sales 10"), and "sales (1)" after "sales"."""
    # what a browser or a hand adds to a name makes a later file: "/" sorts next behind the point
    name = path.name.casefold().replace(" ", "/").replace("(", "/")
    # numbers stand at every second place, so that like is compared with like
    parts = re.split(r"([0-9]+)", name)
    return [int(part) if place % 2 else part for place, part in enumerate(parts)], path.name


def _fault(path: Path, folder: Path, ending: str | None) -> pl.DataFrame | None:
    """What keeps a file from being read, if anything does; looking never follows a bad link."""
    name = path.name
    try:
        if path.is_symlink() and not path.exists():
            return finding(
                NOT_READ,
                name,
                "is a link to a file that is not there",
                "Copy the file itself into the folder.",
            )
        if not path.resolve().is_relative_to(folder.resolve()):
            return finding(
                NOT_READ,
                name,
                "is a link that leads out of the records folder",
                "Copy the file itself into the folder.",
            )
        if path.is_dir():
            return finding(
                NOTE, name, "is a folder, not a log", "Put the files in it beside store.toml."
            )
        if not path.is_file():
            return finding(NOT_READ, name, "is no plain file", "Take it out of the folder.")
        if ending is None:
            return finding(
                NOT_READ if path.suffix.lower() in _OTHER_TABLES else NOTE,
                name,
                "has an ending that is no log's",
                f"Export it as one of {', '.join(ENDINGS)}, or take it out of the folder.",
            )
    except OSError as error:
        return finding(
            NOT_READ,
            name,
            f"cannot be opened ({error.strerror})",
            "Close it where it is open, or copy it into the folder again.",
        )
    return None


def too_large(name: str, largest_mb: int) -> pl.DataFrame:
    """The finding about a file that is larger, packed or unpacked, than the store allows."""
    return finding(
        NOT_READ,
        name,
        f"is larger than {largest_mb} MB once unpacked",
        "Export fewer days into a file, or raise largest_file_mb in store.toml if the size is "
        "right.",
    )
