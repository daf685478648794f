"""Shelf-life studies of stores that log little: what is from the model says so."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest
from generated import drawn_line, records_of, store_of

from shrinkwise.demand.model import fit_demand
from shrinkwise.planning.life_study import LifeStudy, study_shelf_life
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.records.tables import Records
from shrinkwise.report.life_files import life_contents
from shrinkwise.report.life_tables import sell_through_table
from shrinkwise.report.life_words import silences, unplayed_lives
from shrinkwise.shelf.model import fit_shelf

QUICK = PlanSettings(search_paths=10, judge_paths=20, weeks=2, finalists=1)


@pytest.fixture(scope="module")
def records() -> Records:
    line = drawn_line(1)
    settings = line.settings.model_copy(update={"reduce_on_day": 3, "reduced_price": 2.0})
    return records_of(store_of(replace(line, settings=settings)), 1)


def studied(records: Records) -> LifeStudy:
    demand = fit_demand(records)
    return study_shelf_life(records, demand, fit_shelf(records, demand), QUICK)


def bases(study: LifeStudy) -> set[str]:
    """What the curves rest on; the files must be writable too, whatever is missing."""
    assert all(life_contents(study).values())
    return set(sell_through_table(study)["basis"])


MODEL = {"model, best plan", "model, present habit"}


def test_all_logs_give_curves_from_the_logs(records: Records) -> None:
    study = studied(records)
    assert bases(study) == {"logs", *MODEL}
    assert silences(study) == []


def test_without_bakes_the_curves_are_from_the_model(records: Records) -> None:
    study = studied(replace(records, bakes=records.bakes.clear()))
    assert bases(study) == MODEL
    assert silences(study) == [
        "The curves of Rye rolls are from the model alone, since there is no bakes log for this "
        "line."
    ]


def test_without_disposals_the_curves_are_from_the_model(records: Records) -> None:
    study = studied(replace(records, disposals=records.disposals.clear()))
    assert bases(study) == MODEL
    assert "since there is no disposal log" in silences(study)[0]


def test_without_markdowns_the_till_still_tells(records: Records) -> None:
    study = studied(replace(records, markdowns=records.markdowns.clear()))
    assert bases(study) == {"logs", *MODEL}
    (line,) = study.lines
    assert line.batches is not None
    assert line.batches.sell_through["sold_reduced_pct"][-1] > 0


def test_without_reductions_nothing_is_reduced(records: Records) -> None:
    bare = records.profile.lines[0].model_copy(
        update={"reduce_on_day": None, "reduced_price": None}
    )
    study = studied(
        replace(
            records,
            profile=records.profile.model_copy(update={"lines": (bare,)}),
            markdowns=records.markdowns.clear(),
            sales=records.sales.with_columns(reduced=pl.lit(None, pl.Boolean)),
        )
    )
    (line,) = study.lines
    assert line.batches is not None
    assert line.batches.sell_through["sold_reduced_pct"][-1] == 0


@pytest.mark.parametrize("n_days", [7, 21])
def test_a_short_history_gives_wide_intervals_or_a_reason(records: Records, n_days: int) -> None:
    since = records.last_date - timedelta(days=n_days - 1)
    tables = {
        name: getattr(records, name).filter(pl.col("date") >= since)
        for name in ("sales", "bakes", "disposals", "markdowns", "counts")
    }
    short = replace(records, **tables)
    demand = fit_demand(short)
    if not demand.lines:
        assert "Rye rolls" in demand.too_thin
        return
    study = study_shelf_life(short, demand, fit_shelf(short, demand), QUICK)
    assert bases(study) >= MODEL
    (line,) = study.lines
    if line.batches is None:
        assert line.silence is not None
    else:
        whole, (year,) = line.batches.sell_through, studied(records).lines
        assert year.batches is not None
        width = [
            float((curve["sold_full_pct_high"] - curve["sold_full_pct_low"])[0])
            for curve in (whole, year.batches.sell_through)
            if curve["sold_full_pct_low"][0] is not None
        ]
        assert width == sorted(width, reverse=True)


def test_lives_whose_shelf_is_too_large_to_play_are_left_out_and_said(records: Records) -> None:
    """Counted by the piece: 150 times as many units."""
    tables = {
        name: getattr(records, name).with_columns(pl.col("units") * 150)
        for name in ("sales", "bakes", "disposals", "markdowns", "counts")
    }
    (line,) = studied(replace(records, **tables)).lines
    lives = [option.line.shelf_life_days for option in line.options]
    assert line.line.shelf_life_days in lives
    assert 5 in line.line.lives_to_study
    assert 5 not in lives
    (sentence,) = unplayed_lives(line)
    assert "and 5 days: its shelf would hold more units than can be played." in sentence
    (fitting,) = studied(records).lines
    assert unplayed_lives(fitting) == []


def test_a_line_that_is_always_wasted(records: Records) -> None:
    """Everything baked is thrown on its last day; another line sells as ever."""
    other = records.sales.with_columns(product=pl.lit("Wasted"), units=pl.lit(0, pl.Int64))
    other = other.with_columns(net_sales=pl.lit(0.0), reduced=pl.lit(False)).unique("date")
    bakes = records.bakes.with_columns(product=pl.lit("Wasted"), units=pl.lit(4, pl.Int64))
    thrown = bakes.filter(pl.col("date") <= records.last_date - timedelta(days=2)).select(
        "file",
        "row",
        "rows",
        "product",
        "units",
        date=pl.col("date") + timedelta(days=2),
        reason=pl.lit("out of date"),
        bake_date=pl.col("date"),
    )
    line = records.profile.lines[0].model_copy(update={"name": "Wasted"})
    lines = (*records.profile.lines, line)
    wasted = replace(
        records,
        profile=records.profile.model_copy(update={"lines": lines}),
        sales=pl.concat([records.sales, other.select(records.sales.columns)]),
        bakes=pl.concat([records.bakes, bakes]),
        disposals=pl.concat([records.disposals, thrown.select(records.disposals.columns)]),
    )
    study = studied(wasted)
    found = {one.line.name: one for one in study.lines}
    assert bases(study) >= MODEL
    if "Wasted" in found:
        batches = found["Wasted"].batches
        assert batches is not None
        assert batches.sell_through["disposed_pct"].to_list() == pytest.approx([0, 0, 100])


def test_closed_days_and_unlogged_days_do_not_break_the_study(
    small_copy: Callable[[], object],
) -> None:
    """The small store with every tenth day of its bakes lost."""
    from pathlib import Path

    from shrinkwise.records.reading import read_records

    folder = Path(str(small_copy()))
    rows = (folder / "bakes.csv").read_text(encoding="utf-8").splitlines()
    kept = [row for n, row in enumerate(rows) if n == 0 or n % 10]
    (folder / "bakes.csv").write_text("\n".join([*kept, ""]), encoding="utf-8")
    study = studied(read_records(folder))
    assert bases(study) == {"logs", *MODEL}
    for line in study.lines:
        assert line.batches is not None
        last = line.batches.sell_through.row(-1, named=True)
        assert last["sold_full_pct"] + last["sold_reduced_pct"] + last["disposed_pct"] <= 100 + 1e-9
