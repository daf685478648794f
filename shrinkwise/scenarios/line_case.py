"""A line as it was weighed: under its own best plan, and under the present habit."""

from dataclasses import dataclass

from shrinkwise.money.week import Quantities
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.judging import Choice
from shrinkwise.planning.outcome import Outcome
from shrinkwise.planning.rule import Rule
from shrinkwise.profile.line import Line
from shrinkwise.scenarios.terms import Shoppers


@dataclass(frozen=True, eq=False)
class Sale:
    """A line under the best plan for the days for which it is sold: its `shelf_life_days`.

    Attributes
    ----------
    line : Line
    rule : Rule
    plain : Rule
        The best rule without a table of batches: its targets can be carried over to a demand
        that is higher or lower.
    outcome : Outcome
    choice : Choice
        What the rule was chosen from.
    planned_for : Shoppers or None
        Who was to come; None: as the line was weighed.
    """

    line: Line
    rule: Rule
    plain: Rule
    outcome: Outcome
    choice: Choice
    planned_for: Shoppers | None = None


@dataclass(frozen=True)
class LineCase:
    """A line under its own best plan, and under the present habit.

    Attributes
    ----------
    line : Line
        It may be sold for fewer days than its code allows, where that costs less: its
        `shelf_life_days` are the days for which it is sold.
    coded : Line
        With the days of its code.
    rule : Rule
    outcome : Outcome
        A week under its own best plan.
    habit : Outcome
        A week when it is baked as the present line is and sold until its code is used up.
    sales : tuple of Sale
        The best plan for every number of days for which it may be sold, the most days first; and
        its rule, where that is another for what the lines share.
    weeks, habit_weeks : Quantities
        Every week by itself under its own best plan and under the habit, arrays of shape
        (n_weeks, n_paths).
    futures : Futures
        On which all of it was played.
    makes_room : bool
        Whether the rule is not the one that it would have without limits on what lines share.
    """

    line: Line
    coded: Line
    rule: Rule
    outcome: Outcome
    habit: Outcome
    sales: tuple[Sale, ...]
    weeks: Quantities
    habit_weeks: Quantities
    futures: Futures
    makes_room: bool = False

    @property
    def sale(self) -> Sale:
        """That of the days for which it is sold."""
        return next(one for one in self.sales if one.line is self.line)
