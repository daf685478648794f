"""How hard the planner tries, how far it looks, and from which seed."""

from datetime import date, timedelta
from typing import Annotated, Self

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
    screen_weeks : int
        First weeks of the futures on which all sets of bake days are tried.
    screen_paths, search_paths, judge_paths : int
        Futures on which all sets of bake days are tried (some of those searched), on which the
        best are searched, and other ones on which the finalists are judged, so that luck in the
        search is not paid out as a saving.
    polish_times : int
        Times the search futures on which the best rules are improved once more.
    finalists : int
        Bake-day sets whose targets are searched unit by unit; twice as many are searched roughly.
    leaders : int
        Of these, the sets of which every kind of rule is searched.
    most_rounds : int
        Of the improvement of one rule; it ends long before, when no move helps.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    seed: Annotated[int, Field(ge=0, lt=2**31)] = 1
    weeks: Annotated[int, Field(ge=1, le=52)] = 13
    settling_days: Annotated[int, Field(ge=0, multiple_of=7)] = 14
    screen_weeks: Annotated[int, Field(ge=1, le=52)] = 6
    screen_paths: Annotated[int, Field(ge=8)] = 32
    search_paths: Annotated[int, Field(ge=10)] = 128
    judge_paths: Annotated[int, Field(ge=10)] = 384
    polish_times: Annotated[int, Field(ge=1)] = 8
    finalists: Annotated[int, Field(ge=1)] = 4
    leaders: Annotated[int, Field(ge=1)] = 2
    most_rounds: Annotated[int, Field(ge=1)] = 200

    @property
    def polish_paths(self) -> int:
        """Futures on which the best rules are improved once more; the first are searched."""
        return self.polish_times * self.search_paths

    def with_effort(self, effort: int) -> Self:
        """So many times the futures, finalists and leaders of the search [times].

        Parameters
        ----------
        effort : int
            1 leaves everything as it is.
        """
        more = ("screen_paths", "search_paths", "finalists", "leaders")
        return self.model_copy(update={name: effort * getattr(self, name) for name in more})


def planning_start(records: Records) -> date:
    """First day of the store's week after the last day of the records."""
    day = records.last_date + timedelta(days=1)
    while WEEKDAYS[day.weekday()] != records.profile.week_start:
        day += timedelta(days=1)
    return day
