"""What is decided of a line: on which weekdays to bake, and how much after which count."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Policy
from shrinkwise.planning.futures import Futures
from shrinkwise.profile.line import Line

Targets = NDArray[np.int16]

Counts = Literal["nothing", "units", "units by age"]
"""What is counted on the shelf before a bake is decided, the least trouble first."""

COUNTS: tuple[Counts, ...] = ("nothing", "units", "units by age")


@dataclass(frozen=True, eq=False)
class Rule:
    """Bake a set batch on the weekday, or top up to its target where enough is missing.

    With stock s left at close and target S, a top-up is the (s, S) rule of inventory theory, s
    being the target less the least need (Scarf 1960; optimal for long lives and a cost per
    bake). A ceiling on the bake, and not counting on units that go out of date before the next
    one, bring a top-up close to the optimum of short lives (from memory: R. Haijema, S. Minner,
    Improved ordering of perishables, International Journal of Production Economics 209, 2019).

    Attributes
    ----------
    targets : array of int16, shape (7,)
        Top-up target, or set batch, by weekday, Monday first [units]; NO_BAKE on the others.
    least_need : int
        Units that must be missing for a bake to be worth its trouble, 1 or more [units].
    ceiling : int or None
        Most units in one bake [units]; None: as many as are missing.
    counts : "nothing", "units" or "units by age"
        What is counted on the shelf first; nothing: `targets` are set batches.
    batch_table : array of int16, shape (7, *units of age 1, 2, ... on the shelf), optional
        With units by age: the bake of each weekday for every shelf, in place of targets; these
        then hold the bakes on an empty shelf [units].
    sold_by_night : array of int16, shape (7, life), optional
        With units by age: units expected to be sold of the oldest by the close of day 1, 2, ...
        from the bake day on, by weekday of the bake; negative from the first night on whose
        losses the next bake makes up for [units].
    """

    targets: Targets
    least_need: int = 1
    ceiling: int | None = None
    counts: Counts = "units"
    sold_by_night: NDArray[np.int16] | None = None
    batch_table: NDArray[np.int16] | None = None

    @property
    def bake_days(self) -> tuple[int, ...]:
        """Weekdays on which the line may be baked, Monday 0."""
        return tuple(int(day) for day in np.flatnonzero(self.targets != NO_BAKE))

    def going_out(self, weekday: int, stock_by_age: Sequence[int] | NDArray[np.integer]) -> int:
        """Units on hand that are not counted on, since they are expected to go out of date
        before the next bake [units]; 0 unless the rule counts units by age.

        Parameters
        ----------
        weekday : int
            Of the bake.
        stock_by_age : sequence of int, shape (life,)
            Units on the shelf on the morning of the bake by age; nothing of age 0 [units].
        """
        if self.sold_by_night is None:
            return 0
        upto = np.cumsum(np.asarray(stock_by_age)[:0:-1])
        sold = self.sold_by_night[weekday][: len(upto)].astype(np.int64)
        nights = np.flatnonzero(sold < 0)
        n = int(nights[0]) if nights.size else len(sold)
        return int(max(np.max(upto[:n] - sold[:n], initial=0), 0))

    def batch(
        self, weekday: int, stock_by_age: Sequence[int] | NDArray[np.integer], line: Line
    ) -> int:
        """The bake of a weekday [units].

        Parameters
        ----------
        weekday : int
        stock_by_age : sequence of int, shape (life,)
            Units on the shelf on the morning of the bake by age; nothing of age 0 [units].
        line : Line
        """
        target = int(self.targets[weekday])
        if target == NO_BAKE:
            return 0
        if self.batch_table is not None:
            most = np.array(self.batch_table.shape[1:]) - 1
            return int(self.batch_table[weekday, *np.minimum(stock_by_age[1:], most)])
        counted = 0
        if self.counts != "nothing":
            counted = int(np.sum(stock_by_age)) - self.going_out(weekday, stock_by_age)
        missing = target - counted
        return line.batch_for(missing, self.ceiling) if missing >= self.least_need else 0


def policy_of(rules: Sequence[Rule], futures: Futures, line: Line) -> Policy:
    """Rules as a policy on the futures' days, in the line's steps, pans and limits."""
    weekday = futures.days.weekday
    levels = np.stack([rule.targets for rule in rules])[:, weekday][:, :, None]
    most = np.array([line.most_units(rule.ceiling) for rule in rules])
    tables = [rule.batch_table for rule in rules if rule.batch_table is not None]
    if any(table is not tables[0] for table in tables):
        raise ValueError("rules played together must share their table of batches")
    by_table = np.array([rule.batch_table is not None for rule in rules])
    taken = None
    if any(rule.sold_by_night is not None for rule in rules):
        none = np.full((7, line.shelf_life_days), -1, np.int16)
        by_rule = [none if rule.sold_by_night is None else rule.sold_by_night for rule in rules]
        taken = np.stack(by_rule)[:, weekday]
    return Policy(
        levels,
        np.array([0.0 if rule.counts == "nothing" else 1.0 for rule in rules]),
        batch_step=line.batch_step,
        units_per_pan=line.units_per_pan,
        least_batch=line.least_batch,
        need_from=np.array([rule.least_need for rule in rules], np.int16),
        most_batch=most.astype(np.int16),
        taken=taken,
        by_table=np.repeat(by_table[:, None], len(weekday), axis=1),
        table=tables[0] if tables else None,
    )


def carried_over(rule: Rule, factor: float) -> Rule:
    """A rule for a demand that is `factor` times as high."""
    if factor == 1:
        return rule
    targets = np.where(rule.targets == NO_BAKE, NO_BAKE, np.rint(rule.targets * factor))
    nights = rule.sold_by_night
    return replace(
        rule,
        targets=targets.astype(np.int16),
        least_need=max(1, round(rule.least_need * factor)),
        ceiling=None if rule.ceiling is None else max(1, round(rule.ceiling * factor)),
        sold_by_night=None if nights is None else _nights(nights, factor),
    )


def _nights(nights: Targets, factor: float) -> Targets:
    return np.where(nights < 0, nights, np.rint(nights * factor)).astype(np.int16)
