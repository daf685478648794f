"""Which logs stand behind an answer, and what they allow to be answered."""

from dataclasses import dataclass

import polars as pl

from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records

_TABLES = ("sales", "disposals", "markdowns", "bakes", "counts")

FULLY, ROUGHLY, NOT_AT_ALL = "fully", "roughly", "not at all"


@dataclass(frozen=True)
class Answer:
    """How well a question can be answered.

    Attributes
    ----------
    question : str
    how_well : str
        "fully", "roughly" or "not at all".
    because : str
    """

    question: str
    how_well: str
    because: str


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


def evidence_table(records: Records) -> pl.DataFrame:
    """What the logs hold of each line.

    Returns
    -------
    polars.DataFrame
        product; sales_since; weeks, to the last day of the records; hours, "yes" where sales have
        them; and for each further log the day since when it speaks of the line, null for never.
    """
    end = pl.lit(records.last_date)
    sales = records.sales.group_by("product").agg(
        sales_since=pl.col("date").min(),
        weeks=(end - pl.col("date").min()).dt.total_days() // 7 + 1,
        hours=pl.when(pl.col("hour").is_not_null().any())
        .then(pl.lit("yes"))
        .otherwise(pl.lit("no")),
    )
    table = pl.DataFrame({"product": [line.name for line in records.profile.lines]})
    table = table.join(sales, on="product", how="left", maintain_order="left")
    for log in _TABLES[1:]:
        since = getattr(records, log).group_by("product").agg(pl.col("date").min().alias(log))
        table = table.join(since, on="product", how="left", maintain_order="left")
    return table


def answers(records: Records) -> tuple[Answer, ...]:
    """The questions that the records can answer, fully, roughly or not at all."""
    lines = [line for line in records.profile.lines if line.name in set(records.sales["product"])]
    baked, thrown = _of(records, "bakes", lines), _of(records, "disposals", lines)
    counted, reduced = _of(records, "counts", lines), _of(records, "markdowns", lines)
    reducible = [line for line in lines if line.reduce_on_day is not None]
    shrink = FULLY if thrown and (reduced or not reducible) else ROUGHLY
    shrink_because = _joined(
        [
            "" if thrown else "there is no disposals log",
            "" if reduced or not reducible else "there is no markdowns log",
        ],
        "sales, disposals and markdowns are logged",
    )
    all_baked = len(baked) == len(lines)
    of_lines = f"bakes are logged for {len(baked)} of {len(lines)} lines"
    return (
        Answer("What did last week cost?", shrink, shrink_because),
        Answer(
            "Which days were sold out, and what would have been bought?",
            FULLY if all_baked else ROUGHLY,
            of_lines if all_baked else f"{of_lines}; elsewhere sold-out days are inferred",
        ),
        Answer(
            "Which bake days and targets are best?",
            FULLY if all_baked and thrown else ROUGHLY,
            of_lines if thrown else "without disposals nobody knows how batches leave the shelf",
        ),
        Answer(
            "What does the plan save against the present habit?",
            FULLY if all_baked else ROUGHLY,
            of_lines if all_baked else f"{of_lines}; elsewhere a stand-in for the habit is used",
        ),
        Answer(
            "What is one more day of shelf life worth?",
            FULLY if all_baked and thrown else ROUGHLY if thrown else NOT_AT_ALL,
            "how shoppers pick shows in bakes and disposals together"
            if thrown
            else "there is no disposals log",
        ),
        Answer(
            "What is on the shelf tonight?",
            FULLY if len(counted) == len(lines) else ROUGHLY,
            f"the shelf is counted for {len(counted)} of {len(lines)} lines",
        ),
    )


def sharpest_log(records: Records) -> str | None:
    """The one log that would sharpen the answers most; None when all are kept."""
    lines = [line for line in records.profile.lines if line.name in set(records.sales["product"])]
    reducible = [line for line in lines if line.reduce_on_day is not None]
    wanted = (
        ("disposals", lines, "what is thrown is most of what the plan can save"),
        ("bakes", lines, "only with the bakes can a sold-out day be seen"),
        ("markdowns", reducible, "what is sold off cheap is shrink too"),
        ("counts", lines, "a count on one night a week shows what the other logs missed"),
    )
    for log, of_lines, because in wanted:
        missing = len(of_lines) - len(_of(records, log, of_lines))
        if missing:
            whole = missing == len(of_lines)
            lacking = "" if whole else f" of the {missing} lines that it does not hold yet"
            return f"A {log} log{lacking}: {because}."
    return None


def _of(records: Records, log: str, lines: list[Line]) -> list[str]:
    held = set(getattr(records, log)["product"])
    return [line.name for line in lines if line.name in held]


def _joined(parts: list[str], otherwise: str) -> str:
    return "; ".join(part for part in parts if part) or otherwise
