"""How hard the planner tries, how far it looks, and from which seed."""

from datetime import date, timedelta
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from shrinkwise.profile.weekdays import WEEKDAYS
from shrinkwise.records.tables import Records


class PlanSettings(BaseModel):
    """Settings of a plan; together with the data's fingerprint they fix every figure of it.

    Attributes
    ----------
    seed : int
    weeks : int
        Weeks of demand ahead on which plans are judged.
    settling_days : int
        Days played before them to fill the shelf; a multiple of 7.
    search_paths, judge_paths : int
        Futures on which plans are searched, and other ones on which the finalists are judged,
        so that luck in the search is not paid out as a saving.
    finalists : int
        Bake-day sets whose targets are searched unit by unit.
    waiting_sets : int
        Of these, sets that are also tried with a bake that waits until enough is needed.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    seed: Annotated[int, Field(ge=0, lt=2**31)] = 1
    weeks: Annotated[int, Field(ge=1, le=52)] = 13
    settling_days: Annotated[int, Field(ge=0, multiple_of=7)] = 14
    search_paths: Annotated[int, Field(ge=10)] = 120
    judge_paths: Annotated[int, Field(ge=10)] = 400
    finalists: Annotated[int, Field(ge=1)] = 8
    waiting_sets: Annotated[int, Field(ge=0)] = 3


def planning_start(records: Records) -> date:
    """First day of the store's week after the last day of the records."""
    day = records.last_date + timedelta(days=1)
    while WEEKDAYS[day.weekday()] != records.profile.week_start:
        day += timedelta(days=1)
    return day
