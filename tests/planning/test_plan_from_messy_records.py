"""The untidy sample store: all that was planted is found, and the plan is that of the tidy one."""

from pathlib import Path

import polars as pl
import pytest

from shrinkwise.demand.model import fit_demand
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import SCHEMAS, Records, house_columns
from shrinkwise.sample.defects import Defect
from shrinkwise.sample.messy import write_messy_sample
from shrinkwise.shelf.model import fit_shelf

SPOILED_LINE = "Cheese danish"
"""The one line whose defects cannot be undone by reading well."""


@pytest.fixture(scope="module")
def messy(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[Defect, ...]]:
    folder = tmp_path_factory.mktemp("messy") / "records"
    return folder, write_messy_sample(folder, seed=1)


@pytest.fixture(scope="module")
def messy_records(messy: tuple[Path, tuple[Defect, ...]]) -> Records:
    return read_records(messy[0])


def finds(problems: pl.DataFrame, defect: Defect) -> bool:
    """Whether a finding points at the defect: its severity, its file, its row and its column."""
    # sheets of a workbook are told apart in brackets; a repeated file is said with its days
    found = problems.filter(
        pl.col("severity") == defect.severity, pl.col("file").str.starts_with(defect.file)
    )
    if defect.row is not None:
        found = found.filter(pl.col("row") == defect.row)
    if defect.column:
        found = found.filter(pl.col("column") == defect.column)
    return not found.is_empty()


def test_all_thirty_defects_are_found(
    messy: tuple[Path, tuple[Defect, ...]], messy_records: Records
) -> None:
    defects = messy[1]
    assert len({defect.name for defect in defects}) == 30
    assert [d.name for d in defects if not finds(messy_records.problems, d)] == []


def test_nothing_else_is_found(
    messy: tuple[Path, tuple[Defect, ...]], messy_records: Records
) -> None:
    """One finding a defect, and the shifted cells of the row that has one too many."""
    assert messy_records.problems.height == len(messy[1]) + 1


def test_rows_add_up(messy_records: Records) -> None:
    files = messy_records.files
    read = files["rows_used"] + files["rows_set_aside"] + files["rows_replaced"]
    assert files["rows_read"].to_list() == read.to_list()


@pytest.mark.parametrize("table", SCHEMAS)
def test_the_tables_are_those_of_the_tidy_store(
    table: str, messy_records: Records, sample_records: Records
) -> None:
    columns = house_columns(table)
    untidy, tidy = (
        getattr(records, table).select(columns).sort(columns)
        for records in (messy_records, sample_records)
    )
    if table == "events":
        # a closure that was not noted
        assert untidy.height == tidy.height - 1
        tidy = tidy.join(untidy, on=columns, how="semi", nulls_equal=True)
    else:
        untidy, tidy = (t.filter(pl.col("product") != SPOILED_LINE) for t in (untidy, tidy))
    assert untidy.equals(tidy)


def test_the_plan_is_close_to_that_of_the_tidy_store(
    messy_records: Records, sample_plan: BakePlan
) -> None:
    """Lines are fitted together: each hears a little of the spoiled one and of the closure."""
    demand = fit_demand(messy_records)
    plan = plan_bakes(messy_records, demand, fit_shelf(messy_records, demand), seed=1)
    tidy = {line.line.name: line for line in sample_plan.lines}
    for line in plan.lines:
        if line.line.name == SPOILED_LINE:
            continue
        same = tidy[line.line.name]
        for ours, theirs in ((line.now, same.now), (line.plan, same.plan)):
            mean, tidy_mean = ours.money.loss.mean(), theirs.money.loss.mean()
            assert mean == pytest.approx(tidy_mean, rel=0.04), line.line.name
