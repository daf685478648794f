"""What is decided of a line: on which weekdays to bake, up to what, and from what need on."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Policy
from shrinkwise.planning.futures import Futures
from shrinkwise.profile.line import Line

Targets = NDArray[np.int16]


@dataclass(frozen=True, eq=False)
class Rule:
    """Top up to the weekday's target, where at least so many units are missing.

    With stock s left at close and target S this is the (s, S) rule of inventory theory, s being
    the target less the least need (Scarf 1960; optimal for long lives and a cost per bake).

    Attributes
    ----------
    targets : array of int16, shape (7,)
        Top-up target by weekday, Monday first [units]; NO_BAKE on the others.
    least_need : int
        Units that must be missing for a bake to be worth its trouble, 1 or more [units].
    """

    targets: Targets
    least_need: int = 1

    @property
    def bake_days(self) -> tuple[int, ...]:
        """Weekdays on which the line may be baked, Monday 0."""
        return tuple(int(day) for day in np.flatnonzero(self.targets != NO_BAKE))

    def batch(self, weekday: int, on_hand: int, line: Line) -> int:
        """The bake of a weekday with so many units on hand [units]."""
        target = int(self.targets[weekday])
        missing = target - on_hand
        if target == NO_BAKE or missing < self.least_need:
            return 0
        return line.batch_for(missing)


def policy_of(rules: Sequence[Rule], futures: Futures, line: Line) -> Policy:
    """Rules as a policy on the futures' days, in the line's steps, pans and limits."""
    levels = np.stack([rule.targets for rule in rules])[:, futures.days.weekday][:, :, None]
    n = len(rules)
    most = None if line.most_batch is None else np.full(n, line.most_batch, np.int16)
    return Policy(
        levels,
        np.ones(n),
        batch_step=line.batch_step,
        units_per_pan=line.units_per_pan,
        least_batch=line.least_batch,
        need_from=np.array([rule.least_need for rule in rules], np.int16),
        most_batch=most,
    )
