"""When to reduce each line and to what price, or what would tell."""

import numpy as np
import polars as pl

from shrinkwise.demand.paths import INTERVAL
from shrinkwise.planning.life_study import LifeStudy, LineStudy
from shrinkwise.planning.markdown import MarkdownOption
from shrinkwise.planning.trial import LONGEST_TRIAL
from shrinkwise.report.words import count_text, interval_text, money_text, with_interval

SCHEMA = {
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


def reductions_table(study: LifeStudy) -> pl.DataFrame:
    """Days of reduction and reduced prices of the lines whose logs tell, what to do first.

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
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def reductions_shown(reductions: pl.DataFrame) -> pl.DataFrame:
    """`reductions_table` for reading: the saving with its interval, "never" for no day."""
    shown = with_interval(reductions, "saving_week", 2).drop("saving_week_se")
    day = pl.col("reduce_on_day").cast(pl.String).fill_null("never")
    present = pl.when("is_present").then(pl.lit("yes")).otherwise(pl.lit("no"))
    return shown.with_columns(day, present.alias("is_present"))


def reduction_sentence(study: LineStudy, currency: str) -> str:
    """What to do about the reduction of a line, and what would tell; empty for a life of a day."""
    said = _about_options(study, currency) if study.markdown else ""
    trial = study.trial
    is_reduced = study.line.reduce_on_day is not None and study.line.shelf_life_days > 1
    if not said and (trial is not None or is_reduced):
        reason = study.kinds.bargain.reason
        said = f"whether a reduction brings shoppers cannot be told, since {reason}."
    if trial is not None and trial.weeks > LONGEST_TRIAL:
        said += f" It sells too little for a trial to tell: that would take {trial.weeks} weeks."
    elif trial is not None:
        price = "the reduced price" if is_reduced else "a reduced price of your choice"
        instead = " in place of the present reduction" if is_reduced else ""
        said += (
            f" A trial would tell: for {count_text(trial.weeks, 'week')}, "
            f"{count_text(trial.units, 'unit')} at {price} on {count_text(trial.days_week, 'day')} "
            f"a week{instead}, with the reduced sales and markdowns logged."
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
        if all(option.reduce_on_day is None for option in study.markdown[1:]):
            return "never to reduce it is no better than the present reduction."
        return "no other day or price of reduction is better than the present."
    return (
        f"{_change(other, currency)} might save {money_text(other.saving_week, currency)} a week, "
        f"but that is not sure (in nine of ten futures {interval_text(other.savings, currency)}): "
        "keep the present reduction for now."
    )


def _change(option: MarkdownOption, currency: str) -> str:
    if option.reduce_on_day is None or option.reduced_price is None:
        return "never to reduce it"
    price = money_text(option.reduced_price, currency)
    return f"to reduce it on day {option.reduce_on_day} to {price}"


def reduction_sentences(study: LifeStudy) -> list[str]:
    """What to do about the reductions: the lines never to reduce in one sentence, then
    `reduction_sentence` of every other line of which there is one."""
    currency = study.store.currency
    never = [line for line in study.lines if _is_never(line)]
    never.sort(key=lambda line: -line.markdown[0].saving_week)
    said = [reduction_sentence(line, currency) for line in study.lines if not _is_never(line)]
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
