"""The kinds of shoppers that the logs tell, and when to reduce each line."""

import numpy as np
import polars as pl

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.planning.life_study import LifeStudy, LineStudy
from shrinkwise.planning.markdown import MarkdownOption
from shrinkwise.report.words import count_text, interval_text, money_text
from shrinkwise.shelf.kinds import NOT_SEEN, Estimate

KINDS_SCHEMA = {
    "product": pl.String,
    "shoppers": pl.String,
    "share_pct": pl.Float64,
    "share_pct_low": pl.Float64,
    "share_pct_high": pl.Float64,
    "until_day": pl.Int64,
    "in_futures": pl.String,
    "because": pl.String,
}

MARKDOWN_SCHEMA = {
    "product": pl.String,
    "reduce_on_day": pl.Int64,
    "reduced_price": pl.Float64,
    "is_present": pl.Boolean,
    "saving_week": pl.Float64,
    "saving_week_se": pl.Float64,
    "saving_week_low": pl.Float64,
    "saving_week_high": pl.Float64,
    "reduced_units_week": pl.Float64,
}

POOLED = "with what other lines of the category tell"


def kinds_table(study: LifeStudy) -> pl.DataFrame:
    """Four rows a line: oldest-first, fussy, switching and bargain shoppers.

    Columns: product, shoppers, share_pct with a 90% interval (_low, _high) [% of the shoppers who
    come whatever the price], until_day (last day on shelf on which fussy ones take a unit),
    in_futures ("yes" or "no"), because (why they are left out of the plan's futures, or what else
    tells of them).
    """
    rows = [row for line in study.lines for row in _kinds(line)]
    return pl.DataFrame(rows, schema=KINDS_SCHEMA, orient="row")


def _kinds(study: LineStudy) -> list[tuple[object, ...]]:
    name, kinds, (low, high) = study.line.name, study.kinds, study.share.interval()
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


_SEEN = pl.col("share_pct").is_not_null() & pl.col("because").ne_missing(NOT_SEEN)


def told_kinds(study: LifeStudy) -> pl.DataFrame:
    """The kinds of which the logs show a sign; see `kinds_table`."""
    return kinds_table(study).filter(_SEEN)


def silent_kinds(study: LifeStudy) -> list[str]:
    """Of which lines the logs do not tell a kind of shoppers, and why, with how many there may be;
    a sentence for each kind and reason."""
    most = pl.format(" (at most {}%)", pl.col("share_pct_high").round().cast(pl.Int64))
    silent = kinds_table(study).filter(~_SEEN).with_columns(pl.col("product") + most.fill_null(""))
    groups = silent.group_by("shoppers", "because", maintain_order=True).agg("product")
    return [
        f"No {kind} shoppers are told of {', '.join(names)}: {because}."
        for kind, because, names in groups.iter_rows()
    ]


def markdown_table(study: LifeStudy) -> pl.DataFrame:
    """Days of reduction and reduced prices of the lines whose logs tell, the best first.

    Columns: product, reduce_on_day, reduced_price (both empty for never), is_present, saving_week
    against the present reduction, each under its own best plan, with its standard error (_se) and
    the middle nine tenths of the futures (_low, _high), reduced_units_week.
    """
    rows = [
        (
            study_line.line.name,
            option.reduce_on_day,
            option.reduced_price,
            option.is_present(study_line.line),
            option.saving_week,
            option.saving_week_se,
            *np.quantile(option.savings, INTERVAL).tolist(),
            option.reduced_units_week,
        )
        for study_line in study.lines
        for option in study_line.markdown
    ]
    return pl.DataFrame(rows, schema=MARKDOWN_SCHEMA, orient="row")


def markdown_sentence(study: LineStudy, currency: str) -> str:
    """What to do about the reduction of a line, and what would tell; empty for a life of a day."""
    said = _about_options(study, currency) if study.markdown else ""
    trial = study.trial
    if trial is not None:
        if not said:
            reason = study.kinds.bargain.reason
            said = f"whether a reduction brings shoppers cannot be told, since {reason}."
        said += (
            f" A trial would tell: {count_text(trial.units, 'unit')} at the reduced price on "
            f"{count_text(trial.days_week, 'day')} a week for {count_text(trial.weeks, 'week')}, "
            "with the reduced sales and markdowns logged."
        )
    return f"{study.line.name}: {said}" if said else ""


def _about_options(study: LineStudy, currency: str) -> str:
    best = study.markdown[0]
    if not best.is_present(study.line):
        return (
            f"{_change(best, currency)} saves {money_text(best.saving_week, currency)} a week "
            f"against the present reduction (in nine of ten futures "
            f"{interval_text(best.savings, currency)})."
        )
    other = study.markdown[1]
    if other.saving_week <= 2 * other.saving_week_se:
        return "no other day or price of reduction is better than the present."
    return (
        f"{_change(other, currency)} might save {money_text(other.saving_week, currency)} a week, "
        f"but that is not sure (in nine of ten futures {interval_text(other.savings, currency)}): "
        "keep the present reduction."
    )


def _change(option: MarkdownOption, currency: str) -> str:
    if option.reduce_on_day is None or option.reduced_price is None:
        return "never to reduce it"
    price = money_text(option.reduced_price, currency)
    return f"to reduce it on day {option.reduce_on_day} to {price}"


def markdown_sentences(study: LifeStudy) -> list[str]:
    """What to do about the reductions: the lines never to reduce in one sentence, then
    `markdown_sentence` of every other line of which there is one."""
    currency = study.store.currency
    never = [line for line in study.lines if _is_never(line)]
    never.sort(key=lambda line: -line.markdown[0].saving_week)
    said = [markdown_sentence(line, currency) for line in study.lines if not _is_never(line)]
    if never:
        each = (
            f"{line.line.name} {money_text(best.saving_week, currency)} a week "
            f"({interval_text(best.savings, currency)})"
            for line in never
            for best in line.markdown[:1]
        )
        said.insert(
            0,
            "Never to reduce them saves, by what the logs tell (in brackets nine of ten futures): "
            f"{', '.join(each)}.",
        )
    return [sentence for sentence in said if sentence]


def _is_never(study: LineStudy) -> bool:
    """Whether the best is not to reduce a line that is reduced."""
    is_reduced, advised = study.line.reduce_on_day is not None, study.markdown
    return is_reduced and bool(advised) and advised[0].reduce_on_day is None
