"""The kinds of shoppers that the logs tell."""

import polars as pl

from shrinkwise.planning.life_study import LifeStudy, LineStudy
from shrinkwise.report.words import with_interval
from shrinkwise.shelf.kinds import NOT_SEEN, Estimate

SCHEMA = {
    "product": pl.String,
    "shoppers": pl.String,
    "share_pct": pl.Float64,
    "share_pct_low": pl.Float64,
    "share_pct_high": pl.Float64,
    "until_day": pl.Int64,
    "in_futures": pl.String,
    "because": pl.String,
}

READ_AS = "In brackets nine of ten cases. Bargain shoppers come beside the others: per 100 of them."
"""Said above a table of kinds."""

POOLED = "with what other lines of the category tell"


def kinds_table(study: LifeStudy) -> pl.DataFrame:
    """Four rows a line: oldest-first, fussy, switching and bargain shoppers.

    Columns: product, shoppers, share_pct with a 90% interval (_low, _high) [% of the shoppers who
    come whatever the price], until_day (last day on shelf on which fussy ones take a unit),
    in_futures ("yes" or "no"), because (why they are left out of the plan's futures, or what else
    tells of them).
    """
    rows = [row for line in study.lines for row in _kinds(line)]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def _kinds(study: LineStudy) -> list[tuple[object, ...]]:
    name, kinds, (low, high) = study.line.name, study.kinds, study.share.interval()
    oldest = _said(kinds.fussy, None)
    if study.line.shelf_life_days > 1:
        oldest = (100 * study.share.mean, 100 * low, 100 * high, None, "yes", study.silence)
    return [
        (name, "oldest-first", *oldest),
        (name, "fussy", *_said(kinds.fussy, kinds.until_day)),
        (name, "switching", *_said(kinds.switching, None)),
        (name, "bargain", *_said(kinds.bargain, None)),
    ]


def _said(one: Estimate, until_day: int | None) -> tuple[object, ...]:
    figures = (None if value is None else 100 * value for value in (one.mean, one.low, one.high))
    plays = "yes" if one.plays else "no"
    return (*figures, until_day, plays, one.reason or (POOLED if one.pooled else None))


def kinds_shown(kinds: pl.DataFrame) -> pl.DataFrame:
    """`kinds_table` for reading: the share with its interval, such as '56.8 (52.1 to 61.7)'."""
    return with_interval(kinds, "share_pct", 1)


_SEEN = pl.col("share_pct").is_not_null() & pl.col("because").ne_missing(NOT_SEEN)


def told_kinds(study: LifeStudy) -> pl.DataFrame:
    """The kinds of which the logs show a sign; see `kinds_table`."""
    return kinds_table(study).filter(_SEEN)


def silent_kinds(study: LifeStudy) -> list[str]:
    """Of which lines the logs do not tell a kind of shoppers, and why, with how many there may be;
    a sentence for each kind and reason."""
    high = pl.col("share_pct_high").round().cast(pl.Int64)
    # who comes for a bargain comes beside the others, and there may be more of them
    bargains, others = (
        pl.format(f" (fewer than {{}}{of})", high).fill_null("") for of in (" for 100 others", "%")
    )
    most = pl.when(shoppers="bargain").then(bargains).otherwise(others)
    silent = kinds_table(study).filter(~_SEEN).with_columns(pl.col("product") + most)
    groups = silent.group_by("shoppers", "because", maintain_order=True).agg("product")
    odds = " In 19 of 20 cases there are fewer than so many."
    return [
        f"No {kind} shoppers are told of {', '.join(names)}: {because}."
        + odds * (because == NOT_SEEN)
        for kind, because, names in groups.iter_rows()
    ]
