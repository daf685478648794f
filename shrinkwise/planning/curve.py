"""What it costs when the target of one weekday is a few units off."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning import starts
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.outcome import Floats, weighed
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

STEPS = (-6, -4, -2, -1, 0, 1, 2, 4, 6)
"""By how many steps a target is moved."""

PART = 16
"""Part of the largest target that a step comes near to."""


@dataclass(frozen=True)
class LossCurve:
    """Loss against the target of each weekday, the others left as they are.

    Attributes
    ----------
    weekdays : tuple of int
        The bake days, Monday 0.
    moved : array of int, shape (n_moves,)
        By how many units the target is moved, rising; 0 among them [units].
    extra : array of float, shape (n_weekdays, n_moves)
        Mean loss above that of the rule [money per week].
    extra_se : array of float, shape (n_weekdays, n_moves)
        Standard error of the paired difference [money per week].
    """

    weekdays: tuple[int, ...]
    moved: NDArray[np.int64]
    extra: Floats
    extra_se: Floats


def loss_curve(line: Line, labour: Labour, futures: Futures, rule: Rule) -> LossCurve:
    """Play the rule with the target of one weekday moved up and down, on the same futures.

    Where the batches stand in a table, it is the weekday's batches that are moved.

    Parameters
    ----------
    line : Line
    labour : Labour
    futures : Futures
    rule : Rule
    """
    days, step = rule.bake_days, line.batch_step
    moved = max(int(rule.targets.max()) // PART // step, 1) * step * np.array(STEPS)
    plays = [[rule], *_plays(rule, days, moved, line)]
    losses = np.concatenate(
        [weighed(line, labour, futures, policy_of(one, futures, line)).losses for one in plays]
    )
    difference = losses[1:] - losses[0]
    extra = difference.mean(axis=1).reshape(len(days), len(moved))
    extra_se = difference.std(axis=1, ddof=1) / np.sqrt(futures.n_paths)
    return LossCurve(days, moved, extra, extra_se.reshape(extra.shape))


def _plays(
    rule: Rule, days: tuple[int, ...], moved: NDArray[np.int64], line: Line
) -> list[list[Rule]]:
    """The moved rules, weekday by weekday, in lots that can be played at once."""
    rules = [_moved(rule, day, int(by), line) for day in days for by in moved]
    # only one table can be played at a time
    return [[one] for one in rules] if rule.batch_table is not None else [rules] if rules else []


def _moved(rule: Rule, day: int, by: int, line: Line) -> Rule:
    targets, most = rule.targets.astype(np.int64), starts.most_level(line)
    targets[day] = np.clip(targets[day] + by, 0, most)
    table = rule.batch_table
    if table is not None:
        of_day = table[day].astype(np.int32)
        largest = min(most, line.most_units(None))
        table = table.copy()
        table[day] = np.where(of_day > 0, np.clip(of_day + by, 0, largest), 0)
        targets[day] = max(int(table[day].flat[0]), 0) if targets[day] != NO_BAKE else NO_BAKE
    return replace(rule, targets=targets.astype(np.int16), batch_table=table)
