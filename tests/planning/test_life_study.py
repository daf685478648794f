"""What the present habit means for a line with another shelf life."""

from dataclasses import replace

import numpy as np
import pytest
from generated import drawn_line, records_of, store_of

from shrinkwise.demand.model import fit_demand
from shrinkwise.planning.life_study import study_shelf_life
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.two_sets import judging_futures
from shrinkwise.sample.line_truth import Habit
from shrinkwise.shelf.model import fit_shelf

QUICK = PlanSettings(search_paths=10, polish_times=1, judge_paths=40, weeks=4, finalists=1)


def test_the_habit_bakes_at_every_life_what_it_does_at_the_present_one() -> None:
    """Set batches on Mondays and Thursdays, each for the two days of the present life.

    The store knows of no other life: one of three days would have it bake half as much again.
    """
    line = drawn_line(3, life=2)
    elsewhen = ("tuesday", "wednesday", "friday", "saturday", "sunday")
    line = replace(
        line,
        settings=line.settings.model_copy(
            update={"shelf_life_study": (3,), "no_bake_days": elsewhen}
        ),
        habit=Habit(bake_weekdays=(0, 3), factor=1.1, credit=0.0),
    )
    records = records_of(store_of(line), seed=5)
    demand = fit_demand(records)
    shelf = fit_shelf(records, demand)
    (study,) = study_shelf_life(records, demand, shelf, QUICK).lines
    judged = judging_futures(records, demand, shelf, QUICK)[line.name].judge
    counted = slice(judged.days.first_day, None)
    weekday, wanted = judged.days.weekday[counted], judged.means[counted].mean(axis=1)
    for_two_days = {
        day: 1.1 * (wanted[weekday == day].mean() + wanted[weekday == day + 1].mean())
        for day in (0, 3)
    }
    assert [option.line.shelf_life_days for option in study.options] == [2, 3]
    for option in study.options:
        batches = option.habit.batch_by_weekday
        assert np.flatnonzero(batches).tolist() == [0, 3]
        # a batch is misjudged by 8%, which evens out over the 52 of a weekday
        assert batches[[0, 3]] == pytest.approx([*for_two_days.values()], rel=0.06)
