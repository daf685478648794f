"""The files of a shelf-life study."""

from dataclasses import replace
from io import StringIO
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from rich.console import Console

from shrinkwise.demand.model import DemandModel
from shrinkwise.errors import ShrinkwiseError
from shrinkwise.planning.life_study import LifeStudy, study_shelf_life
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.records.tables import Records
from shrinkwise.report.life_console import print_shelf_life
from shrinkwise.report.life_files import life_contents, life_page, write_life_study
from shrinkwise.report.life_words import worth_sentence
from shrinkwise.shelf.batches import LineBatches
from shrinkwise.shelf.model import ShelfModel

TOO_YOUNG = "3 days on sale in the records; 7 are the least to plan on"
QUICK = PlanSettings(search_paths=10, judge_paths=20, weeks=2, finalists=1)
NAMES = [
    "shelf_life.csv",
    "sell_through.csv",
    "days_left.csv",
    "batches.csv",
    "shoppers.csv",
    "reductions.csv",
    "shelf_life.html",
]


@pytest.fixture(scope="module")
def study(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> LifeStudy:
    two = tuple(
        line for line in sample_records.profile.lines if line.name in ("Bagels", "Croissants")
    )
    records = replace(
        sample_records, profile=sample_records.profile.model_copy(update={"lines": two})
    )
    demand = replace(sample_demand, too_thin={"Moon cake": TOO_YOUNG})
    return study_shelf_life(records, demand, sample_shelf, QUICK)


@pytest.fixture(scope="module")
def contents(study: LifeStudy) -> dict[str, str]:
    return life_contents(study)


def test_files_are_written_and_the_same_again(
    study: LifeStudy, contents: dict[str, str], tmp_path: Path
) -> None:
    files = write_life_study(study, tmp_path / "deep" / "out")
    assert [file.name for file in files] == NAMES
    for file in files:
        assert file.read_text(encoding="utf-8") == contents[file.name]


def test_a_folder_that_cannot_be_made_is_said(study: LifeStudy, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(ShrinkwiseError):
        write_life_study(study, tmp_path / "out")


def test_shelf_life_csv_has_what_a_day_is_worth(contents: dict[str, str]) -> None:
    table = pl.read_csv(StringIO(contents["shelf_life.csv"]))
    of_line = table.filter(pl.col("product") == "Bagels")
    assert of_line["shelf_life_days"].to_list() == [2, 3, 4, 5]
    assert of_line["extra_dough_cost"].is_null().to_list() == [False, True, False, False]
    assert of_line["day_saves_week"].is_null().to_list() == [True, False, False, False]
    worth = of_line["loss_week_best"].diff().drop_nulls()
    assert (-worth).to_list() == pytest.approx(of_line["day_saves_week"][1:].to_list(), abs=2e-4)
    assert of_line["days_left_best"].is_sorted()


def test_days_left_add_up_and_have_their_mean(contents: dict[str, str]) -> None:
    table = pl.read_csv(StringIO(contents["days_left.csv"]))
    for key, rows in table.group_by("product", "shelf_life_days", "basis"):
        assert rows["share_pct"].sum() == pytest.approx(100, abs=0.1), key
        mean = (rows["days_left"] * rows["share_pct"]).sum() / 100
        assert rows["mean_days_left"][0] == pytest.approx(mean, abs=0.02), key
        assert rows["days_left"].max() == key[1] - 1
    assert set(table["basis"]) == {"logs", "model, best plan", "model, present habit"}


def test_batches_are_all_there(contents: dict[str, str], sample_records: Records) -> None:
    table = pl.read_csv(StringIO(contents["batches.csv"]), try_parse_dates=True)
    ways = ["sold_full_units", "sold_reduced_units", "disposed_units", "lost_sight_of_units"]
    ended = table.group_by("product", "bake_date").agg(
        pl.col("baked_units").first(), ended=pl.sum_horizontal(pl.col(ways).sum())
    )
    assert (ended["ended"] > ended["baked_units"] - 0.1).all()
    logged = sample_records.bakes.select("product", bake_date="date", logged="units")
    both = ended.join(logged, on=["product", "bake_date"])
    assert both.height == ended.height
    assert (both["logged"] == both["baked_units"]).all()


def test_the_page_says_what_its_curves_rest_on(study: LifeStudy) -> None:
    page = life_page(study)
    assert page.count("From the logs, with 90% intervals.") == 2
    assert "maker&#x27;s date code" in page
    assert page.count("<svg") == 4
    silent = tuple(
        replace(line, batches=None, silence="there is no disposal log") for line in study.lines
    )
    page = life_page(replace(study, lines=silent))
    assert "From the logs" not in page
    assert page.count("From the model, under the best plan, since there is no disposal log.") == 2


def test_without_any_batch_the_file_of_batches_has_its_header(study: LifeStudy) -> None:
    silent = tuple(replace(line, batches=None, silence="none") for line in study.lines)
    text = life_contents(replace(study, lines=silent))["batches.csv"]
    assert text.startswith("product,bake_date,baked_units,found_units,day_on_shelf,")
    assert text.count("\n") == 1


def test_a_line_that_left_no_batch_hides_no_other_line(
    study: LifeStudy, contents: dict[str, str]
) -> None:
    first, second = study.lines
    assert first.batches is not None
    life = first.line.shelf_life_days
    by_way, by_age = np.zeros((1, 3, 0, life), np.int64), np.zeros((1, 0, life), np.int64)
    empty = LineBatches(first.line, (), by_age[0, :, 0], by_way, by_age, by_age[..., 0])
    lines = (replace(first, batches=empty), second)
    text = life_contents(replace(study, lines=lines))["batches.csv"]
    kept = [row for row in contents["batches.csv"].splitlines() if first.line.name not in row]
    assert text.splitlines() == kept


def test_what_a_day_is_worth_is_said_of_many_lines_of_one_and_of_none(study: LifeStudy) -> None:
    croissants = [line for line in study.lines if line.line.name == "Croissants"]
    bagels = [line for line in study.lines if line.line.name == "Bagels"]
    two = replace(study, lines=(*bagels, *croissants))
    assert worth_sentence(two).startswith("One more day for all 2 lines saves USD ")
    one = replace(study, lines=tuple(bagels))
    assert worth_sentence(one).startswith(
        "One more day for the one line that has every step saves USD "
    )
    assert '<p class="lead">One more day for the one line' in life_page(one)
    present = tuple(replace(line, options=line.options[1:]) for line in bagels)
    none = replace(study, lines=present)
    assert worth_sentence(none) == ""
    assert '<p class="lead">' not in life_page(none)


def test_a_line_that_is_too_young_is_named_with_the_reason(study: LifeStudy) -> None:
    said = f"No study of Moon cake: {TOO_YOUNG}."
    assert f'<p class="note">{said}</p>' in life_page(study)
    console = Console(file=StringIO(), soft_wrap=True, width=120)
    print_shelf_life(console, study)
    assert isinstance(console.file, StringIO)
    assert said in console.file.getvalue().splitlines()
    none = replace(study, left_out={})
    assert "No study of" not in life_page(none)


def test_shoppers_and_reductions_are_told_or_the_reason_why_not(contents: dict[str, str]) -> None:
    """The sample's shoppers are oldest-first and freshest-first ones; Bagels are reduced."""
    shoppers = pl.read_csv(StringIO(contents["shoppers.csv"]))
    assert shoppers["shoppers"].to_list() == 2 * ["oldest-first", "fussy", "switching", "bargain"]
    others = shoppers.filter(pl.col("shoppers") != "oldest-first")
    assert set(others["in_futures"]) == {"no"}
    assert others["because"].is_not_null().all()
    assert (
        others.filter(pl.col("product") == "Croissants", pl.col("shoppers") == "bargain")[
            "because"
        ].item()
        == "the line is never reduced"
    )
    reductions = pl.read_csv(StringIO(contents["reductions.csv"]))
    assert reductions["product"].unique().to_list() == ["Bagels"]
    assert reductions["is_present"].sum() == 1
    assert reductions.filter("is_present")["saving_week"].item() == 0
    assert "A trial would tell" in contents["shelf_life.html"]
