"""What the pages share: results, computed once for each state of the records."""

import os
from datetime import date
from pathlib import Path

import streamlit as st

from shrinkwise.dashboard.launch import RECORDS_VARIABLE
from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.errors import ShrinkwiseError
from shrinkwise.money.review import WeekReview, review_week
from shrinkwise.money.unmet import UnmetWeek, unmet_week
from shrinkwise.planning.life_study import LifeStudy, study_shelf_life
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.planning.week import WeekPlan, plan_week
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records
from shrinkwise.report.demand_tables import DemandTables, demand_tables
from shrinkwise.scenarios.compare import Comparison, compare_lines
from shrinkwise.scenarios.scenario import parsed_scenario
from shrinkwise.scenarios.study import Study, study_switches
from shrinkwise.shelf.model import ShelfModel, fit_shelf
from shrinkwise.tonight.sheet import PanUpSheet, pan_up_sheet

Stamp = tuple[tuple[str, int, int], ...]


def records() -> Records:
    """The records folder that the dashboard was started on, as its files are now.

    Raises
    ------
    ShrinkwiseError
        When the dashboard was started without one, or the records cannot be read.
    """
    return _records(*_source())


def review(week: str | None = None) -> WeekReview:
    """A week of the records; the last whole one when left out."""
    return _review(*_source(), week)


def unmet(start: date) -> UnmetWeek:
    """What was wanted and not there in the week that begins on `start`."""
    return _unmet(*_source(), start)


def demand() -> DemandTables:
    """What moves the demand, its level, and how well it is foreseen."""
    return _demand(*_source())


def plan() -> BakePlan:
    """The bake plan."""
    return _plan(*_source())


def sheet() -> PanUpSheet:
    """Tonight's pull and pan-up sheet."""
    demand, _ = _models(*_source())
    return pan_up_sheet(plan(), demand)


def week(first: date) -> WeekPlan:
    """The coming week that begins on `first`, as it will be."""
    return _week(*_source(), first)


def life_study() -> LifeStudy:
    """The study of shelf lives."""
    return _life_study(*_source())


def comparison(text: str, source: str) -> Comparison:
    """The scenario of a file's text, against today's lines; `source` is named in messages."""
    return _comparison(*_source(), text, source)


def study(text: str, source: str) -> list[Study | None]:
    """The same scenario looked at from all sides."""
    return _study(*_source(), text, source)


def _source() -> tuple[str, Stamp]:
    folder = os.environ.get(RECORDS_VARIABLE)
    if not folder:
        raise ShrinkwiseError(
            "The dashboard needs a records folder. Start it with: shrinkwise dashboard RECORDS"
        )
    files = sorted(path for path in Path(folder).glob("*") if path.is_file())
    stats = [(path.name, path.stat()) for path in files]
    return folder, tuple((name, stat.st_mtime_ns, stat.st_size) for name, stat in stats)


@st.cache_data(show_spinner="Reading the records")
def _records(folder: str, stamp: Stamp) -> Records:
    return read_records(folder)


@st.cache_data(show_spinner=False)
def _review(folder: str, stamp: Stamp, week: str | None) -> WeekReview:
    return review_week(_records(folder, stamp), week)


@st.cache_data(show_spinner=False)
def _demand(folder: str, stamp: Stamp) -> DemandTables:
    return demand_tables(_records(folder, stamp), _models(folder, stamp)[0])


@st.cache_data(show_spinner="Learning demand and shelf from the records")
def _models(folder: str, stamp: Stamp) -> tuple[DemandModel, ShelfModel]:
    read = _records(folder, stamp)
    demand = fit_demand(read)
    return demand, fit_shelf(read, demand)


@st.cache_data(show_spinner=False)
def _unmet(folder: str, stamp: Stamp, start: date) -> UnmetWeek:
    return unmet_week(_records(folder, stamp), _models(folder, stamp)[0], start)


@st.cache_data(show_spinner="Planning the bakes")
def _plan(folder: str, stamp: Stamp) -> BakePlan:
    return plan_bakes(_records(folder, stamp), *_models(folder, stamp))


@st.cache_data(show_spinner="Planning the week")
def _week(folder: str, stamp: Stamp, first: date) -> WeekPlan:
    return plan_week(_records(folder, stamp), *_models(folder, stamp), _plan(folder, stamp), first)


@st.cache_data(show_spinner="Playing every shelf life")
def _life_study(folder: str, stamp: Stamp) -> LifeStudy:
    return study_shelf_life(_records(folder, stamp), *_models(folder, stamp))


@st.cache_data(show_spinner="Weighing the switch")
def _comparison(folder: str, stamp: Stamp, text: str, source: str) -> Comparison:
    read = _records(folder, stamp)
    scenario = parsed_scenario(text, source, read.profile)
    return compare_lines(read, *_models(folder, stamp), [scenario])


@st.cache_data(show_spinner="Looking for what would change the answer")
def _study(folder: str, stamp: Stamp, text: str, source: str) -> list[Study | None]:
    return study_switches(_comparison(folder, stamp, text, source))
