"""Moves of a coordinate search: the rules near a rule."""

from collections.abc import Iterable
from dataclasses import replace
from itertools import combinations

import numpy as np

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning import starts
from shrinkwise.planning.outcome import Floats
from shrinkwise.planning.rule import Rule
from shrinkwise.profile.line import Line

SMALL = 1e-9
"""Gain that is no gain, against rounding [money per week]."""


def together(rule: Rule, moves: list[Rule], merit: Floats, best: float) -> Rule | None:
    """The rule with the better move of every weekday that has a move that helps; None where there
    is one such weekday or none. The first moves are up and down on one weekday after another."""
    targets, helped = rule.targets.copy(), 0
    for place, day in enumerate(rule.bake_days):
        at = 2 * place + int(merit[2 * place + 1] < merit[2 * place])
        if merit[at] < best - SMALL:
            targets[day] = moves[at].targets[day]
            helped += 1
    return replace(rule, targets=targets) if helped > 1 else None


def shifts(rule: Rule, line: Line) -> list[Rule]:
    """Rules whose targets of two bake days are a unit away, each up or down."""
    days = np.flatnonzero(rule.targets != NO_BAKE)
    found = []
    for pair in combinations(days, 2):
        for by in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            targets = rule.targets.copy()
            targets[list(pair)] += np.array(by, np.int16)
            found.append(replace(rule, targets=targets))
    most = starts.most_level(line)
    return [one for one in found if one.targets[days].min() >= 0 and one.targets.max() <= most]


def moves(rule: Rule, step: int, line: Line) -> list[Rule]:
    """Rules one step away: a weekday's target, all targets, the need or the ceiling, and all
    targets with either."""
    days, base, most = rule.bake_days, rule.targets.tolist(), starts.most_level(line)

    def moved(on: Iterable[int], by: int, need: int = 0, ceiling: int = 0) -> Rule:
        targets = rule.targets.copy()
        for day in on:
            targets[day] = min(max(base[day] + by, 0), most)
        return Rule(
            targets=targets,
            least_need=max(1, min(rule.least_need + need, most)),
            ceiling=None if rule.ceiling is None else max(line.batch_step, rule.ceiling + ceiling),
            counts=rule.counts,
            sold_by_night=rule.sold_by_night,
        )

    moves = [moved(on, by) for on in (*((day,) for day in days), days) for by in (step, -step)]
    if rule.least_need > 1:
        moves += [moved(on, by, need=by) for on in ((), days) for by in (step, -step)]
    if rule.ceiling is not None:
        whole = max(step // line.batch_step, 1) * line.batch_step
        moves += [moved(on, by, ceiling=by) for on in ((), days) for by in (whole, -whole)]
    return moves
