"""Exports that hold the same days again: the last file in the order of names is believed."""

from dataclasses import dataclass

import polars as pl

from shrinkwise.records.findings import REPLACED, finding, no_findings


@dataclass(frozen=True)
class Part:
    """The good rows of one file or sheet of a table."""

    label: str
    rows: pl.DataFrame


def without_repeats(parts: list[Part]) -> tuple[list[Part], pl.DataFrame]:
    """The parts without the days that a later part holds again, and what was replaced.

    Two parts that share days but no line on them are halves of one export, not repeats.

    Parameters
    ----------
    parts : list of Part
        Of one table, in the order of the names of their files.

    Returns
    -------
    kept : list of Part
        In the same order.
    problems : polars.DataFrame
    """
    kept: list[Part] = []
    problems = [no_findings()]
    for index, part in enumerate(parts):
        rows = part.rows
        for later in parts[index + 1 :]:
            again = _again(rows, later.rows)
            problems += _runs(rows.filter(again), part.label, later.label)
            rows = rows.filter(~again)
        kept.append(Part(part.label, rows))
    return kept, pl.concat(problems)


def _again(earlier: pl.DataFrame, later: pl.DataFrame) -> pl.Series:
    """Which rows of the earlier part the later one holds again."""
    if "kind" in earlier.columns:
        # events are lists kept by hand: two of them may speak of the same day
        what = pl.struct("date", "product", pl.col("kind").cast(pl.String))
        return earlier.select(what.is_in(later.select(what).to_series().implode())).to_series()
    shared = earlier["date"].is_in(later["date"].unique().implode())
    same = earlier.filter(shared).join(later, on=["date", "product"], how="semi")
    return shared if not same.is_empty() else shared & False


def _runs(replaced: pl.DataFrame, label: str, later: str) -> list[pl.DataFrame]:
    """A finding for each run of days, without the days between that were kept."""
    if replaced.is_empty():
        return []
    days = replaced["date"].unique().sort()
    run = (days.diff().dt.total_days().fill_null(1) > 1).cum_sum()
    runs = pl.DataFrame({"date": days, "run": run})
    by_run = (
        replaced.join(runs, on="date")
        .group_by("run")
        .agg(
            first=pl.col("date").min(),
            last=pl.col("date").max(),
            row=pl.col("row").min(),
            rows=pl.col("rows").sum(),
        )
        .sort("run")
    )
    return [
        finding(
            REPLACED,
            label,
            f"is held again by {later}, which is used",
            "Nothing, if the later file corrects this one. If both are right, as those of two "
            "tills are, put their rows into one file.",
            row=row["row"],
            column="date",
            value=f"{row['first']} to {row['last']}",
            rows=row["rows"],
        )
        for row in by_run.iter_rows(named=True)
    ]
