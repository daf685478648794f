"""The plan of one line, beside what the store does with it now."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shrinkwise.planning.curve import LossCurve
from shrinkwise.planning.habit import Habit
from shrinkwise.planning.outcome import Floats, Outcome, standard_error
from shrinkwise.planning.rule import Rule
from shrinkwise.profile.line import Line

WORTH_SAYING = 0.5
"""Saving for which nobody would change anything [money per week]."""


@dataclass(frozen=True)
class Option:
    """A rule that was looked at, and a week under it."""

    rule: Rule
    outcome: Outcome


@dataclass(frozen=True)
class LinePlan:
    """The plan of one line.

    Attributes
    ----------
    line : Line
    rule : Rule
        On which weekdays to bake, and how much after which count.
    habit : Habit
    now, plan : Outcome
        A week under the present habit and under the plan, on the same futures.
    options : tuple of Option
        The best rules that were found, the one with the lowest loss first.
    simpler : Option or None
        The best rule that counts less on the shelf at night; None where nothing is counted, and
        for a rule that was taken for the store's sake.
    gap_to_optimum_pct : float or None
        How far the rule's expected loss lies above the least there is with nightly counts by
        age [% of the least loss]; None where that cannot be computed exactly.
    curve : LossCurve
        The rule's loss when the target of one weekday is off.
    evidence : str
        The logs behind it.
    stock_by_age : array of int16, shape (life,)
        On the shelf by age on the morning after the records, the likeliest split of what the
        ledger says [units].
    for_store : bool
        Whether the rule is not the line's own best, but taken for what the lines share.
    """

    line: Line
    rule: Rule
    habit: Habit
    now: Outcome
    plan: Outcome
    options: tuple[Option, ...]
    simpler: Option | None
    gap_to_optimum_pct: float | None
    curve: LossCurve
    evidence: str
    stock_by_age: NDArray[np.int16]
    for_store: bool = False

    @property
    def saving(self) -> Floats:
        """Loss now less loss under the plan, shape (n_paths,) [money per week]."""
        return self.now.money.loss - self.plan.money.loss

    @property
    def keeps_habit(self) -> bool:
        """The rule is no reason to change: it saves no more than the noise, or next to nothing, and
        was not taken for the store's sake."""
        saved = max(2 * standard_error(self.saving), WORTH_SAYING)
        return not self.for_store and float(self.saving.mean()) < saved

    @property
    def counts_by_age(self) -> bool:
        """The evening's sheet is needed: the bake depends on the units of each age."""
        return self.rule.counts == "units by age"

    @property
    def by_hand(self) -> Rule | None:
        """What to go by where the evening's sheet is not at hand: the rule, or the best one that
        counts less where it counts units by age; None where there is none."""
        if not self.counts_by_age:
            return self.rule
        return None if self.simpler is None else self.simpler.rule

    @property
    def value_of_counting(self) -> Floats:
        """What the count of the shelf saves against the best rule that counts less, shape
        (n_paths,) [money per week]."""
        less = self.plan if self.simpler is None else self.simpler.outcome
        return less.money.loss - self.plan.money.loss
