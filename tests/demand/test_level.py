"""The level of the store's sales: a known one is found, and a short log has none."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl

from shrinkwise.demand.level import sales_level
from shrinkwise.records.tables import Records
from shrinkwise.report.level_chart import level_over_time, level_title

WEEKDAY = np.array([0.8, 0.8, 0.9, 1.0, 1.2, 1.4, 0.9])


def stepped(records: Records, days: int, closed: tuple[int, ...] = ()) -> Records:
    """100 units a day and from the middle on 80, times a pattern of the week, one closed day."""
    first = records.first_date
    dates = [first + timedelta(days=day) for day in range(days) if day not in closed]
    levels = [100 if (day - first).days < days // 2 else 80 for day in dates]
    units = [
        round(level * WEEKDAY[day.weekday()]) for level, day in zip(levels, dates, strict=True)
    ]
    row = records.sales.head(1)
    sales = pl.concat(
        [
            row.with_columns(date=pl.lit(day), units=pl.lit(one).cast(row.schema["units"]))
            for day, one in zip(dates, units, strict=True)
        ]
    )
    return replace(records, sales=sales)


def test_a_step_of_the_level_is_found_whatever_the_weekday(sample_records: Records) -> None:
    level = sales_level(stepped(sample_records, 160, closed=(30,)))
    assert level.height == 159
    early, late = level["level_units"][5:50], level["level_units"][105:150]
    assert np.abs(early - 100).max() < 2  # type: ignore[operator]
    assert np.abs(late - 80).max() < 2  # type: ignore[operator]
    assert level_title(level).startswith("Units sold a day: within 1% of the four weeks before")
    # the last four weeks of the first 108 days are those after the step
    assert level_title(level.head(107)).startswith(
        ("Units sold a day: 19% less", "Units sold a day: 20% less")
    )


def test_a_few_days_have_no_level(sample_records: Records) -> None:
    assert sales_level(stepped(sample_records, 12)).is_empty()


def test_the_samples_level_is_drawn_day_by_day(sample_records: Records) -> None:
    level = sales_level(sample_records)
    assert level["units"].sum() <= sample_records.sales["units"].sum() + 1
    assert level["level_units"].null_count() == 0
    chart = level_over_time(level)
    assert chart.data.height == level.height
