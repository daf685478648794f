"""Exports that hold the same days again: the last file in the order of names is believed."""

from dataclasses import dataclass

import polars as pl

from shrinkwise.records.findings import DOUBT, REPLACED, finding, no_findings

FEWEST_DAYS = 5
"""Shared days with other units, a working week of them, below which the later file is taken for a
correction (common practice, no source)."""

MUCH = 1 / 3
"""Share of the shared lines' days with other units above which it is not: a correction changes a
few of them, and two tills sell the same units of a line on a few days only (common practice, no
source)."""


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
            replaced = rows.filter(again)
            problems += _runs(replaced, part.label, later.label)
            problems += _other_units(replaced, later.rows, part.label, later.label)
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


def _other_units(
    replaced: pl.DataFrame, later: pl.DataFrame, label: str, later_label: str
) -> list[pl.DataFrame]:
    """A doubt where the rows that replace others hold much else, as those of another till do."""
    if replaced.is_empty() or "units" not in replaced.columns:
        return []
    shared = later.filter(pl.col("date").is_in(replaced["date"].unique().implode()))
    before = replaced.group_by("date", "product").agg(before=pl.col("units").sum())
    after = shared.group_by("date", "product").agg(after=pl.col("units").sum())
    both = before.join(after, on=["date", "product"], how="full", coalesce=True)
    other = both.filter(pl.col("before").fill_null(0) != pl.col("after").fill_null(0))
    n_days = other["date"].n_unique()
    if n_days < FEWEST_DAYS or other.height <= MUCH * both.height:
        return []
    days = replaced["date"].unique().sort()
    n_rows, units = int(replaced["rows"].sum()), int(replaced["units"].sum())
    return [
        finding(
            DOUBT,
            label,
            f"holds other units than {later_label} on {n_days} of the {len(days)} days that both "
            f"hold; the later file is used, and {n_rows} rows with {units} units are dropped",
            "If they are the files of two tills, put their rows into one file, or export both "
            "tills at once. If the later one corrects this one, take this one out.",
            row=int(replaced["row"].sort()[0]),
            column="units",
            value=f"{days[0]} to {days[-1]}",
        )
    ]


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
