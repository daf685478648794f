"""Which logs stand behind an answer."""

import polars as pl

from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

_TABLES = ("sales", "disposals", "markdowns", "bakes", "counts")


def line_evidence(records: Records, ledger: LineLedger) -> str:
    """The logs that speak of a line, in one phrase.

    Parameters
    ----------
    records : Records
    ledger : LineLedger
    """
    name = ledger.line.name
    held = [
        table
        for table in _TABLES
        if not getattr(records, table).filter(pl.col("product") == name).is_empty()
    ]
    weeks = len(ledger.sold) / 7
    words = f"{weeks:.0f} weeks of {', '.join(held)}"
    missing = [table for table in _TABLES if table not in held]
    if missing:
        words += f"; no {', '.join(missing)}"
    if ledger.bakes_inferred:
        words += "; bakes inferred from sales and disposals"
    return words
