"""Futures of a generated line as they will be: the true demand and the true shoppers."""

from datetime import date, timedelta

import numpy as np

from shrinkwise.engine.policy import Days
from shrinkwise.engine.streams import split_demand, with_more_kinds
from shrinkwise.planning.futures import Futures
from shrinkwise.sample.line_truth import LineTruth
from shrinkwise.sample.truth import StoreTruth, demand_paths, mean_demand

COURSES = 1000
"""True futures of a line; their mean is the truth, each is one that may come."""


def true_futures(
    truth: LineTruth, start: date, n_days: int, first_day: int, number: int, store: StoreTruth
) -> Futures:
    """What may come from `start` on, `first_day` days of which are not counted; the same number
    gives the same shoppers."""
    dates = [start + timedelta(days=day) for day in range(n_days)]
    rng = np.random.default_rng([5, number])
    wanted = demand_paths(truth, start, n_days, COURSES, rng, store)
    share = np.full(COURSES, truth.oldest_first_share)
    days = Days(
        np.array([day.weekday() for day in dates]),
        np.array([store.is_open(day) for day in dates]),
        first_day,
    )
    means = np.repeat(mean_demand(truth, dates, store)[:, None], COURSES, axis=1)
    streams, kinds = split_demand(wanted, share, seed=number), truth.kinds
    if kinds.is_plain:
        return Futures(streams, means, days)
    others = 1 - truth.oldest_first_share
    streams = with_more_kinds(
        streams,
        np.full(COURSES, kinds.fussy_share / others),
        np.full(COURSES, kinds.switching_share / others),
        kinds.bargain_uplift * means,
        seed=number,
    )
    return Futures(streams, means, days, fussy_until_day=kinds.fussy_until_day)
