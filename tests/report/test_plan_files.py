"""The folder of a plan: whole or untouched, and enough to make the plan again."""

import json
from pathlib import Path

import pytest

from shrinkwise.errors import ShrinkwiseError
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.store import Store
from shrinkwise.report import plan_files
from shrinkwise.report.plan_files import plan_contents, write_plan
from shrinkwise.tonight.sheet import PanUpSheet

NAMES = [
    "bake_plan.csv",
    "recommendations.csv",
    "capacity.csv",
    "bake_plan.xlsx",
    "bake_plan.html",
    "plan.json",
]


def test_six_files_with_the_contents(
    sample_plan: BakePlan, sample_sheet: PanUpSheet, tmp_path: Path
) -> None:
    folder = tmp_path / "a" / "b"
    files = write_plan(sample_plan, sample_sheet, folder)
    assert [file.name for file in files] == NAMES
    assert sorted(path.name for path in folder.iterdir()) == sorted(NAMES)
    contents = plan_contents(sample_plan, sample_sheet)
    for file in files:
        content = contents[file.name]
        data = content.encode() if isinstance(content, str) else content
        assert file.read_bytes() == data
        # others in the store read them too
        assert file.stat().st_mode & 0o777 == 0o644


def test_a_file_of_last_week_is_replaced(
    sample_plan: BakePlan, sample_sheet: PanUpSheet, tmp_path: Path
) -> None:
    (tmp_path / "bake_plan.csv").write_text("of last week", encoding="utf-8")
    write_plan(sample_plan, sample_sheet, tmp_path)
    assert (tmp_path / "bake_plan.csv").read_text(encoding="utf-8").startswith("product,")


def test_a_fault_while_a_file_is_made_leaves_the_folder_as_it_was(
    sample_plan: BakePlan,
    sample_sheet: PanUpSheet,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def no_page(*_: object) -> str:
        raise RuntimeError("no page")

    monkeypatch.setattr(plan_files, "plan_page", no_page)
    with pytest.raises(RuntimeError, match="no page"):
        write_plan(sample_plan, sample_sheet, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_the_way_is_named(
    sample_plan: BakePlan, sample_sheet: PanUpSheet, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    out.write_text("mine", encoding="utf-8")
    with pytest.raises(ShrinkwiseError, match=str(out)):
        write_plan(sample_plan, sample_sheet, out)
    assert out.read_text(encoding="utf-8") == "mine"


def test_plan_json_holds_what_made_it(sample_plan: BakePlan, sample_sheet: PanUpSheet) -> None:
    text = plan_contents(sample_plan, sample_sheet)["plan.json"]
    document = json.loads(text)
    assert document["version"] == sample_plan.version
    assert document["fingerprint"] == sample_plan.fingerprint
    assert len(document["fingerprint"]) == 64
    assert document["settings"]["seed"] == sample_plan.settings.seed
    # settings and store are whole: read back they are the same
    assert PlanSettings.model_validate(document["settings"]) == sample_plan.settings
    assert Store.model_validate(document["store"]) == sample_plan.store


def test_plan_json_holds_the_plan(sample_plan: BakePlan, sample_sheet: PanUpSheet) -> None:
    document = json.loads(plan_contents(sample_plan, sample_sheet)["plan.json"])
    assert document["saving_week"] == pytest.approx(float(sample_plan.saving.mean()))
    assert document["saving_week_se"] == pytest.approx(sample_plan.saving_se)
    assert len(document["saving_week_by_future"]) == sample_plan.settings.judge_paths
    assert document["tonight"]["bake_date"] == sample_sheet.bake_date.isoformat()
    assert document["tonight"]["batches"] == sample_sheet.batches.to_dicts()
    assert len(document["recommendations"]) == len(sample_plan.lines)
    # no NaN or Infinity, which other readers of JSON refuse
    json.dumps(document, allow_nan=False)
