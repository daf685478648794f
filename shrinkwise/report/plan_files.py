"""The files of a plan: CSV, Excel, HTML and JSON."""

import json
from pathlib import Path
from typing import Any

import polars as pl

from shrinkwise.files import write_files
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.week import WeekPlan
from shrinkwise.report import plan_tables
from shrinkwise.report.capacity_tables import capacity_table
from shrinkwise.report.page import plan_page
from shrinkwise.report.sheets import csv_text, workbook
from shrinkwise.report.target_tables import curve_table
from shrinkwise.report.week_tables import tight_dates, week_table
from shrinkwise.tonight.sheet import PanUpSheet


def write_plan(
    plan: BakePlan, sheet: PanUpSheet, folder: Path, week: WeekPlan | None = None
) -> list[Path]:
    """Write the files of a plan, and of one week if it is given, into `folder`.

    The folder is made when it is not there. Everything is made before the first file is written,
    so that a fault leaves the folder as it was.

    Returns
    -------
    list of pathlib.Path
        The files written.

    Raises
    ------
    ShrinkwiseError
        When the folder or a file cannot be written.
    """
    return write_files(folder, plan_contents(plan, sheet, week))


def plan_contents(
    plan: BakePlan, sheet: PanUpSheet, week: WeekPlan | None = None
) -> dict[str, str | bytes]:
    """bake_plan.csv, recommendations.csv, capacity.csv, bake_plan.xlsx, bake_plan.html and
    plan.json; with a week also week_plan.csv."""
    bake_plan = plan_tables.bake_plan_table(plan)
    recommendations = plan_tables.recommendations_table(plan)
    capacity = capacity_table(plan)
    sheets = {
        "Bake plan": bake_plan,
        "Recommendations": recommendations,
        "Options": plan_tables.options_table(plan),
        "Off target": curve_table(plan),
        "Capacity": capacity,
    }
    contents: dict[str, str | bytes] = {
        "bake_plan.csv": csv_text(bake_plan),
        "recommendations.csv": csv_text(recommendations),
        "capacity.csv": csv_text(capacity),
    }
    if week is not None:
        sheets[week.name] = week_table(week)
        contents["week_plan.csv"] = csv_text(sheets[week.name])
    document = plan_document(plan, sheet, week)
    return contents | {
        "bake_plan.xlsx": workbook(sheets, plan.start),
        "bake_plan.html": plan_page(plan, sheet, week),
        "plan.json": json.dumps(document, indent=1, allow_nan=False) + "\n",
    }


def plan_document(
    plan: BakePlan, sheet: PanUpSheet, week: WeekPlan | None = None
) -> dict[str, Any]:
    """Everything of a plan as plain data: settings, seed, fingerprint, version and tables."""
    saving = plan.saving
    document = {
        "version": plan.version,
        "fingerprint": plan.fingerprint,
        "settings": plan.settings.model_dump(),
        "store": plan.store.model_dump(mode="json"),
        "assumed": list(plan.store.assumed),
        "start": plan.start.isoformat(),
        "store_week": plan_tables.store_table(plan).to_dicts(),
        "saving_week": float(saving.mean()),
        "saving_week_se": plan.saving_se,
        "saving_week_by_future": [round(float(value), 4) for value in saving],
        "recommendations": plan_tables.recommendations_table(plan).to_dicts(),
        "bake_plan": plan_tables.bake_plan_table(plan).to_dicts(),
        "options": plan_tables.options_table(plan).to_dicts(),
        "capacity": capacity_table(plan).to_dicts(),
        "cost_of_limits_week": plan.shared.cost_of_limits,
        "tonight": {
            "evening": sheet.evening.isoformat(),
            "bake_date": sheet.bake_date.isoformat(),
            "is_open": sheet.is_open,
            "closed": [day.isoformat() for day in sheet.closed],
            "batches": sheet.batches.to_dicts(),
            "as_before": list(sheet.as_before),
        },
        "left_out": plan.left_out,
        "share_unknown": plan.share_unknown,
        "foreseen_by_same_weekday": list(plan.by_same_weekday),
        "known_from_below": list(plan.from_below),
    }
    if week is not None:
        bakes, tight = (
            table.with_columns(pl.col("date").dt.to_string("iso")).to_dicts()
            for table in (week_table(week), tight_dates(week))
        )
        document["week"] = {
            "name": week.name,
            "saving": float(week.saving.mean()),
            "saving_se": week.saving_se,
            "bakes": bakes,
            "may_not_fit": tight,
        }
    return document
