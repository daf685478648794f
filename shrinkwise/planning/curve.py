"""What it costs when the target of one weekday is a few units off."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import Policy
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
    moves = [(day, int(by)) for day in days for by in moved]
    losses = weighed(line, labour, futures, _policy(rule, moves, futures, line)).losses
    difference = losses[1:] - losses[0]
    extra = difference.mean(axis=1).reshape(len(days), len(moved))
    extra_se = difference.std(axis=1, ddof=1) / np.sqrt(futures.n_paths)
    return LossCurve(days, moved, extra, extra_se.reshape(extra.shape))


def _policy(rule: Rule, moves: list[tuple[int, int]], futures: Futures, line: Line) -> Policy:
    """The rule, and the rule with each move of a weekday's target, or of its table's batches."""
    most, table = starts.most_level(line), rule.batch_table
    if table is None:
        return policy_of([rule, *(_moved(rule, *move, most) for move in moves)], futures, line)
    policy = policy_of([rule] * (1 + len(moves)), futures, line)
    lifted = np.zeros(policy.levels.shape[:2], np.int16)
    for plan, (day, by) in enumerate(moves, start=1):
        lifted[plan, futures.days.weekday == day] = min(by, most - int(table.max()))
    return replace(policy, lifted=lifted)


def _moved(rule: Rule, day: int, by: int, most: int) -> Rule:
    targets = rule.targets.copy()
    targets[day] = min(max(int(targets[day]) + by, 0), most)
    return replace(rule, targets=targets)
