"""Real life against coded life: units taken off early, for quality, and after the code."""

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest
from ledgers import MONDAY, ledger_of

from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import stock_ledger
from shrinkwise.records.tables import SCHEMAS, Records
from shrinkwise.report.life_words import life_sentences
from shrinkwise.shelf.freshness import Freshness
from shrinkwise.shelf.real_life import RealLife, real_life

LINE = Line(name="Rye", category="breads", price=4, dough_cost=1, shelf_life_days=4)


def logs(disposals: dict[str, list[object]], counted: tuple[int, ...] = ()) -> Records:
    """Disposals of the line, and counts on some days after the first Monday."""
    tables = {name: SCHEMAS[name].create_empty() for name in ("disposals", "markdowns", "counts")}
    columns = tables["disposals"].schema
    thrown = pl.DataFrame(disposals | {"product": LINE.name}, schema_overrides=columns)
    counts = pl.DataFrame(
        {"date": [MONDAY + timedelta(days=day) for day in counted]}, schema={"date": pl.Date}
    ).with_columns(product=pl.lit(LINE.name), units=pl.lit(0, pl.Int64))
    tables["disposals"] = pl.concat([tables["disposals"], thrown], how="diagonal")
    tables["counts"] = pl.concat([tables["counts"], counts], how="diagonal")
    return SimpleNamespace(**tables)  # type: ignore[return-value]


def of_line(records: Records, name: str) -> RealLife:
    return real_life(records, stock_ledger(records)[name])


def coded(records: Records, name: str, life: int) -> Records:
    """The same logs of a store that goes by another code."""
    lines = [line.with_life(life) if line.name == name else line for line in records.profile.lines]
    return replace(records, profile=records.profile.model_copy(update={"lines": tuple(lines)}))


def test_the_sample_goes_by_its_codes(sample_records: Records) -> None:
    for name, ledger in stock_ledger(sample_records).items():
        real = real_life(sample_records, ledger)
        assert real.quality_from_day is None
        assert not real.sells_after_code, name
        assert life_sentences(name, real) == []


def test_quality_disposals_that_start_early_shorten_the_life(sample_records: Records) -> None:
    """Hot dog buns of 4 days: what went out of date is taken off on day 3 for quality instead."""
    name = "Hot dog buns"
    moved = pl.when(pl.col("product") == name, pl.col("reason").is_in(["out of date", "donated"]))
    disposals = sample_records.disposals.with_columns(
        date=moved.then(pl.col("date") - timedelta(days=1)).otherwise(pl.col("date")),
        reason=moved.then(pl.lit("Quality: hard")).otherwise(pl.col("reason")),
    )
    real = of_line(replace(sample_records, disposals=disposals), name)
    assert real.quality_from_day == 3
    assert real.disposes_early
    (sentence,) = life_sentences(name, real)
    assert sentence.startswith(
        "Hot dog buns is coded for 4 days, but disposals for quality start on day 3"
    )
    assert "real life is shorter" in sentence


@pytest.mark.parametrize(
    ("units", "first"),
    [
        # on days 2, 3 and 4; from the day on which nine tenths are still to come
        ((1, 20, 1), 3),
        ((2, 20, 0), 3),
        ((3, 20, 0), 2),
        ((2, 12, 200), None),
    ],
)
def test_quality_goes_on_the_day_from_which_nearly_all_such_disposals_are(
    units: tuple[int, int, int], first: int | None
) -> None:
    """Five nights on which the same is thrown on each day on shelf, for quality."""
    rows = [
        {
            "date": MONDAY + timedelta(days=7 * week + day),
            "bake_date": MONDAY + timedelta(days=7 * week + 1),
            "units": thrown,
            "reason": "Mould",
        }
        for week in range(5)
        for day, thrown in zip((2, 3, 4), units, strict=True)
    ]
    found = real_life(logs(pl.DataFrame(rows).to_dict(as_series=False)), ledger_of(LINE, 40))
    assert found.quality_from_day == first
    assert found.quality_units == 5 * (units[0] + units[1])


def test_a_few_quality_disposals_prove_nothing(sample_records: Records) -> None:
    name = "Hot dog buns"
    few = sample_records.disposals.filter(pl.col("product") == name).head(3)
    few = few.with_columns(reason=pl.lit("quality"), units=pl.lit(1, pl.Int64))
    few = few.with_columns(date=pl.col("bake_date") + timedelta(days=1))
    records = replace(sample_records, disposals=pl.concat([sample_records.disposals, few]))
    assert of_line(records, name).quality_from_day is None


def with_early(records: Records, name: str, rows: int, reason: str) -> Records:
    """As many single units disposed of on their second day, each on another."""
    few = records.disposals.filter(pl.col("product") == name)
    few = few.unique("bake_date", maintain_order=True).drop_nulls("bake_date").head(rows)
    few = few.with_columns(
        reason=pl.lit(reason),
        units=pl.lit(1, pl.Int64),
        date=pl.col("bake_date") + timedelta(days=1),
    )
    return replace(records, disposals=pl.concat([records.disposals, few]))


def test_quality_disposals_of_one_unit_in_a_thousand_are_no_routine(
    sample_records: Records,
) -> None:
    name = "Hot dog buns"
    records = with_early(sample_records, name, 12, "quality")
    real = of_line(records, name)
    assert real.quality_units == 12
    assert real.baked > 100 * real.quality_units
    assert real.quality_from_day is None
    assert life_sentences(name, real) == []


@pytest.mark.parametrize(
    ("reason", "units"),
    [("dry", 12), ("Mouldy crust", 12), ("stale.", 12), ("sundry", 0), ("laundry van", 0)],
)
def test_reasons_are_read_by_whole_words(sample_records: Records, reason: str, units: int) -> None:
    records = with_early(sample_records, "Hot dog buns", 12, reason)
    assert of_line(records, "Hot dog buns").quality_units == units


def test_disposals_for_quality_on_every_day_are_no_shorter_life(sample_records: Records) -> None:
    """Most quality disposals on the last day: the code is right."""
    name = "Hot dog buns"
    moved = (pl.col("product") == name) & (pl.col("reason") == "out of date")
    disposals = sample_records.disposals.with_columns(
        reason=pl.when(moved).then(pl.lit("stale")).otherwise(pl.col("reason"))
    )
    assert of_line(replace(sample_records, disposals=disposals), name).quality_from_day is None


def test_early_disposals_of_other_reasons_are_said_too(sample_records: Records) -> None:
    name = "Bagels"
    rows = sample_records.bakes.filter(pl.col("product") == name).select("date", "product")
    early = sample_records.disposals.clear().vstack(
        rows.select(
            file=pl.lit("disposals.csv"),
            row=pl.lit(1, pl.Int64),
            rows=pl.lit(1, pl.Int64),
            date="date",
            product="product",
            units=pl.lit(1, pl.Int64),
            reason=pl.lit("dropped"),
            bake_date="date",
        ).select(sample_records.disposals.columns)
    )
    real = of_line(
        replace(sample_records, disposals=pl.concat([sample_records.disposals, early])), name
    )
    assert real.quality_from_day is None
    (sentence,) = life_sentences(name, real)
    assert f"{real.early_units} units of {real.baked} baked were disposed of before" in sentence


def test_dated_units_past_their_code_are_noticed(sample_records: Records) -> None:
    """The sample's white loaf lasts 5 days; a store that codes it for 3 labels it on day 5."""
    real = of_line(coded(sample_records, "White loaf", 3), "White loaf")
    assert real.left_after_code > 0.05 * real.baked
    assert real.sells_after_code
    assert "stood on the shelf after that" in life_sentences("White loaf", real)[-1]


def test_the_balance_shows_sales_past_the_code_without_dates(sample_records: Records) -> None:
    """The raisin loaf is baked twice a week and lasts 6 days; here it is coded for 3."""
    records = coded(sample_records, "Raisin loaf", 3)
    undated = replace(
        records,
        disposals=records.disposals.with_columns(bake_date=pl.lit(None, pl.Date)),
        markdowns=records.markdowns.with_columns(bake_date=pl.lit(None, pl.Date)),
    )
    real = of_line(undated, "Raisin loaf")
    assert real.left_after_code == 0
    assert real.sold_after_code > 0.05 * real.baked
    assert real.sells_after_code


@pytest.mark.parametrize(
    ("counted", "sold_after_code"),
    [
        ((), 8),
        # what a count finds or misses was not sold
        ((1,), 3),
        ((2,), 3),
        ((4,), 5),
        ((1, 2, 4, 5), 0),
        # before the ledger begins, and after it ends
        ((-1, -8, 12), 8),
    ],
)
def test_units_come_back_in_the_sales_and_not_in_a_count(
    counted: tuple[int, ...], sold_after_code: int
) -> None:
    """5 of the 6 taken off on the second day are sold on the third; of 4 taken off on the fifth
    3 are sold two days after, of 9 on the eighth none within two days."""
    unexplained = np.zeros(12, np.int64)
    unexplained[[1, 2, 4, 6, 8, 11]] = -6, 5, -4, 3, -9, 9
    thrown = {"date": [MONDAY], "units": [1]}
    ledger = ledger_of(LINE, 12, unexplained=unexplained)
    assert real_life(logs(thrown, counted), ledger).sold_after_code == sold_after_code


def test_freshness_by_hand() -> None:
    """Life 3: 5 units with two days left, 3 with one, 2 on the last day."""
    fresh = Freshness.of([[2, 3], [3, 0], [1, 1]])
    assert fresh.share == pytest.approx([0.2, 0.3, 0.5])
    assert fresh.mean == pytest.approx(1.3)
    nothing = Freshness.of([0, 0])
    assert nothing.mean != nothing.mean
