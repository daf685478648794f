"""What a past week cost, from the logs alone."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.money.calendar_weeks import named_week, week_name, week_of, whole_weeks
from shrinkwise.money.week import Amounts, Money, Quantities, labour_hours, opening_money
from shrinkwise.profile.store import Store
from shrinkwise.records.ledger import LineLedger, stock_ledger
from shrinkwise.records.on_sale import on_sale
from shrinkwise.records.tables import Records

WEEKS_BEFORE = 8
NO_REASON = "no reason given"

MEASURES = (
    "net_sales",
    "sold_units",
    "baked_units",
    "bakes",
    "disposed_units",
    "markdown",
    "waste",
    "shrink_at_retail",
    "shrink_at_cost",
    "labour_hours",
    "labour",
    "sold_out_days",
    "loss",
)
"""Columns of a review after `product`: money [money], units, bakes, hours and days of one week."""


@dataclass(frozen=True)
class WeekReview:
    """A week of the store against the weeks before it.

    Attributes
    ----------
    store : Store
    week : str
        Its name, such as 2026-W40.
    start : datetime.date
        Its first day.
    weeks_before : int
        Whole weeks of records that it is held against, at most eight.
    lines, lines_before : polars.DataFrame
        `product` and MEASURES of the week, without lines of which there was nothing, and their
        mean over the weeks before. The loss is waste + markdown + labour; what the empty shelf
        cost is not in it, since no log tells.
    total, total_before : dict of str to float
        The same for the store; its labour includes the opening of baking days.
    reasons : polars.DataFrame
        reason, disposed_units, before_units: what was disposed of, and its mean before.
    disposals_logged : bool
        Otherwise there is no waste in any figure, and the shrink is of the markdowns alone.
    """

    store: Store
    week: str
    start: date
    weeks_before: int
    lines: pl.DataFrame
    lines_before: pl.DataFrame
    total: dict[str, float]
    total_before: dict[str, float]
    reasons: pl.DataFrame
    disposals_logged: bool

    def costliest(self, n: int = 3) -> pl.DataFrame:
        """The lines with the largest loss, at most `n`; those that lost nothing are not among
        them."""
        return self.lines.filter(pl.col("loss") > 0).sort("loss", descending=True).head(n)


def review_week(records: Records, week: str | None = None) -> WeekReview:
    """What a week cost: sales, shrink, labour and sold-out days, line by line.

    Parameters
    ----------
    records : Records
    week : str, optional
        Such as 2026-W40; the last whole week of the records when left out.

    Returns
    -------
    WeekReview

    Raises
    ------
    ShrinkwiseError
        When a day of the week is missing from the records on which the store is open.
    """
    store, whole = records.profile, whole_weeks(records)
    if week is None:
        start = whole[0] if whole else week_of(records.last_date, store.week_start)
    else:
        start = named_week(week, store.week_start)
    if start not in whole:
        raise ShrinkwiseError(
            f"The week {week_name(start)} ({start} to {start + timedelta(days=6)}) is not whole "
            f"in the records, which hold {records.first_date} to {records.last_date}. Name "
            "another week, or add its logs."
        )
    ledgers = stock_ledger(records, max(records.last_date, start + timedelta(days=6)))
    starts = [start - timedelta(weeks=k) for k in range(1, WEEKS_BEFORE + 1)]
    starts = [first for first in starts if first in whole]
    lines = _week_lines(records, ledgers, start)
    before = [_week_lines(records, ledgers, first) for first in starts]
    mean_before = _mean(before) if before else lines.clear()
    openings = [_opening(records, ledgers, first) for first in (start, *starts)]
    return WeekReview(
        store=store,
        week=week_name(start),
        start=start,
        weeks_before=len(starts),
        lines=lines.filter(pl.any_horizontal(pl.col(MEASURES) != 0)),
        lines_before=mean_before,
        total=_total(lines, openings[:1]),
        total_before=_total(mean_before, openings[1:]),
        reasons=_reasons(records, start, starts),
        disposals_logged=not records.disposals.is_empty(),
    )


def _week_lines(records: Records, ledgers: dict[str, LineLedger], start: date) -> pl.DataFrame:
    in_week = pl.col("date").is_between(start, start + timedelta(days=6))
    sales = records.sales.filter(in_week).partition_by("product", as_dict=True)
    markdowns = records.markdowns.filter(in_week).partition_by("product", as_dict=True)
    rows = [
        _line_week(
            ledger,
            records.profile,
            start,
            sales.get((name,), records.sales.clear()),
            markdowns.get((name,), records.markdowns.clear()),
        )
        for name, ledger in ledgers.items()
    ]
    return pl.DataFrame(rows, schema={"product": pl.String} | dict.fromkeys(MEASURES, pl.Float64))


def _line_week(
    ledger: LineLedger, store: Store, start: date, sales: pl.DataFrame, markdowns: pl.DataFrame
) -> dict[str, float | str]:
    line, labour = ledger.line, store.labour
    first = (start - ledger.start).days
    days = slice(max(first, 0), max(first + 7, 0))
    baked = ledger.baked[days]
    disposed = float((ledger.disposed_last_day[days] + ledger.disposed_early[days]).sum())
    markdown, reduced = _markdown(ledger, days, sales, markdowns)
    sold = float(ledger.sold[days].sum())
    quantities = Quantities(
        baked=_amount(baked.sum()),
        bakes=_amount((baked > 0).sum()),
        pans=_amount(np.ceil(baked / line.units_per_pan).sum()),
        labelled=_amount(ledger.labelled[days].sum()),
        sold_full=_amount(sold - reduced),
        sold_reduced=_amount(reduced),
        disposed=_amount(disposed),
        unmet=_amount(0),
        stock_change=_amount(0),
    )
    hours = float(labour_hours(quantities, labour))
    waste = (line.dough_cost + line.disposal_cost) * disposed
    return {
        "product": line.name,
        "net_sales": float(sales["net_sales"].sum()),
        "sold_units": sold,
        "baked_units": float(baked.sum()),
        "bakes": float((baked > 0).sum()),
        "disposed_units": disposed,
        "markdown": markdown,
        "waste": waste,
        "shrink_at_retail": markdown + line.price * disposed,
        "shrink_at_cost": markdown + line.dough_cost * disposed,
        "labour_hours": hours,
        "labour": labour.wage_per_hour * hours,
        "sold_out_days": float((ledger.sold_out & on_sale(ledger))[days].sum()),
        "loss": waste + markdown + labour.wage_per_hour * hours,
    }


def _amount(value: float) -> Amounts:
    return np.asarray(value, np.float64)


def _markdown(
    ledger: LineLedger, days: slice, sales: pl.DataFrame, markdowns: pl.DataFrame
) -> tuple[float, float]:
    """Money given away on reduced units, and those units.

    Where the till tells reduced sales apart, it is the week's own full price less what was
    paid. Elsewhere the units relabelled and not disposed of count as sold reduced.
    """
    if sales["reduced"].is_not_null().any():
        reduced = sales.filter(pl.col("reduced"))
        full = sales.filter(~pl.col("reduced"))
        units = float(reduced["units"].sum())
        full_units = float(full["units"].sum())
        paid_full = float(full["net_sales"].sum())
        price = paid_full / full_units if full_units > 0 else ledger.line.price
        return max(price * units - float(reduced["net_sales"].sum()), 0.0), units
    labelled = float(markdowns["units"].sum())
    sold = max(labelled - float(ledger.disposed_last_day[days].sum()), 0.0)
    if not sold:
        return 0.0, 0.0
    paid = float((markdowns["unit_price"] * markdowns["units"]).sum()) / labelled
    return max(ledger.line.price - paid, 0.0) * sold, sold


def _mean(weeks: list[pl.DataFrame]) -> pl.DataFrame:
    return pl.concat(weeks).group_by("product", maintain_order=True).agg(pl.col(MEASURES).mean())


def _opening(records: Records, ledgers: dict[str, LineLedger], start: date) -> Money:
    """What the opening of the week's baking days took."""
    days = {
        start + timedelta(days=day)
        for day in range(7)
        for ledger in ledgers.values()
        if 0 <= (index := (start - ledger.start).days + day) < len(ledger.baked)
        and ledger.baked[index] > 0
    }
    return opening_money(len(days), records.profile.labour)


def _total(lines: pl.DataFrame, openings: list[Money]) -> dict[str, float]:
    total = {name: float(lines[name].sum()) for name in MEASURES}
    for name in ("labour_hours", "labour", "loss"):
        total[name] += float(np.mean([getattr(opening, name) for opening in openings] or [0.0]))
    return total


def _reasons(records: Records, start: date, starts: list[date]) -> pl.DataFrame:
    def units(first: date, weeks: int) -> pl.DataFrame:
        within = pl.col("date").is_between(first, first + timedelta(days=7 * weeks - 1))
        return (
            records.disposals.filter(within)
            .group_by(reason=pl.col("reason").fill_null(NO_REASON))
            .agg(pl.col("units").sum().cast(pl.Float64))
        )

    week = units(start, 1).rename({"units": "disposed_units"})
    before = units(min(starts, default=start), len(starts)).with_columns(
        before_units=pl.col("units") / max(len(starts), 1)
    )
    return (
        week.join(before.select("reason", "before_units"), on="reason", how="full", coalesce=True)
        .with_columns(pl.col("disposed_units", "before_units").fill_null(0.0))
        .sort("disposed_units", "reason", descending=[True, False])
    )
