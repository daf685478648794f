"""A bakery that pans up in mid-afternoon: part of the day's shoppers come after the count."""

import numpy as np
import pytest

from shrinkwise.engine.policy import Days
from shrinkwise.engine.streams import split_demand
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import standard_error, weighed
from shrinkwise.planning.rule import policy_of
from shrinkwise.planning.search import best_rules
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

LINE = Line(
    name="Rye loaf", category="breads", price=4, dough_cost=1.2, shelf_life_days=3, filled=False
)
QUICK = PlanSettings(search_paths=64, judge_paths=64, finalists=3, leaders=1)
ALL_DAYS = tuple(range(7))


def futures(seed: int) -> Futures:
    """Thirteen weeks of about 16 units a day after two that fill the shelf."""
    rng = np.random.default_rng(seed)
    demand = rng.negative_binomial(8, 8 / 24, (105, 256))
    streams = split_demand(demand, np.full(256, 0.6), seed)
    days = Days(np.arange(105) % 7, np.ones(105, bool), 14)
    return Futures(streams, np.full(demand.shape, 16.0), days)


@pytest.mark.parametrize("share", [0.3, 1.0])
def test_a_plan_that_knows_of_shoppers_after_the_count_beats_one_that_does_not(
    share: float,
) -> None:
    labour = Labour()
    at_close, fresh = futures(1), futures(2).counted_before(share, 3)
    knowing = at_close.counted_before(share, 4)
    rules = [
        best_rules(LINE, labour, searched, ALL_DAYS, ALL_DAYS, QUICK)[0]
        for searched in (knowing, at_close)
    ]
    losses = weighed(LINE, labour, fresh, policy_of(rules, fresh, LINE)).losses
    saved = losses[1] - losses[0]
    assert saved.mean() > 4 * standard_error(saved)


def test_a_count_before_close_is_worth_less_than_one_after_it() -> None:
    labour = Labour()
    losses = []
    for searched, played in (
        (futures(1), futures(2)),
        (futures(1).counted_before(0.5, 4), futures(2).counted_before(0.5, 3)),
    ):
        rule = best_rules(LINE, labour, searched, ALL_DAYS, ALL_DAYS, QUICK)[0]
        losses.append(weighed(LINE, labour, played, policy_of([rule], played, LINE)).losses[0])
    assert (losses[1] - losses[0]).mean() > 4 * standard_error(losses[1] - losses[0])
