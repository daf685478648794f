"""What a line offers to the store: rules that use the oven and the shift less, and their cost."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning import starts
from shrinkwise.planning.day_use import DayUse, mean_use, pans_variance
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.judging import Choice
from shrinkwise.planning.outcome import Floats, played, weighed_flows
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store

LESS = (0.75, 0.5, 0.0)
"""Shares of a target that are offered: on one weekday, where none is no bake, or on all."""

SMALLER = (0.8, 0.6, 0.4)
"""Ceilings that are offered, as shares of the largest target."""


@dataclass(frozen=True, eq=False)
class Offers:
    """The rules of a line among which the store chooses, the line's own choice first.

    Attributes
    ----------
    line : Line
    choice : Choice
        The line's own.
    futures : Futures
        On which the rules were weighed.
    rules : tuple of Rule
    losses : array of float, shape (n_rules, n_paths)
        Of the line alone, without the opening of baking days [money per week].
    short_of_floor_pct : array of float, shape (n_rules,)
        By how much each falls short of the line's in-stock floor [% of open days].
    use : DayUse
        Means by weekday, arrays of shape (n_rules, 7).
    pans_variance : array of float, shape (n_rules, 7)
        Of the pans of a day, by weekday [pans squared].
    """

    line: Line
    choice: Choice
    futures: Futures
    rules: tuple[Rule, ...]
    losses: Floats
    short_of_floor_pct: Floats
    use: DayUse
    pans_variance: Floats

    @property
    def costs(self) -> Floats:
        """Mean losses; what ties with the line's best costs what that costs, shape (n_rules,)
        [money per week]."""
        return self.choice.costs(self.losses)

    @property
    def bakes(self) -> NDArray[np.bool_]:
        """On which weekdays each rule may bake, shape (n_rules, 7)."""
        return np.stack([rule.targets != NO_BAKE for rule in self.rules])

    def taken(self, index: int) -> Choice:
        """The line's choice with one of the rules in place of its own."""
        return self.choice.taking(
            self.rules[index], self.losses[index], float(self.short_of_floor_pct[index])
        )


def line_offers(line: Line, store: Store, futures: Futures, choice: Choice) -> Offers:
    """The line's own choice, its best rule for each set of bake days, and lighter ones.

    Lighter than the line's own choice are rules with less on one weekday, under a lower ceiling
    or with less on all days. None is offered that falls shorter of the line's in-stock floor.

    Parameters
    ----------
    line : Line
    store : Store
    futures : Futures
        Those on which `choice` was judged.
    choice : Choice
    """
    # to leave a line out for the others' sake is not for a programme to say
    others = [rule for rule, _ in choice.by_days() if rule is not choice.rule and rule.bake_days]
    base = choice.rule
    if base.batch_table is not None:
        # a table has no target that could be less
        base = next(rule for rule in choice.options if rule.batch_table is None)
        others += [] if base in others else [base]
    rules = [choice.rule, *others, *lighter(base, line, futures)]
    flows = played(line, futures, policy_of(rules, futures, line), by_day=True)
    found = weighed_flows(flows, line, store.labour, futures)
    kept = np.flatnonzero(found.short_of_floor_pct <= found.short_of_floor_pct[0])
    return Offers(
        line=line,
        choice=choice,
        futures=futures,
        rules=tuple(rules[index] for index in kept),
        losses=found.losses[kept],
        short_of_floor_pct=found.short_of_floor_pct[kept],
        use=mean_use(flows, line, store.labour, futures).of(kept),
        pans_variance=pans_variance(flows, line, futures)[kept],
    )


def lighter(rule: Rule, line: Line, futures: Futures) -> list[Rule]:
    """The rule with less on one weekday, perhaps with more on the bake day before it instead;
    under lower ceilings; and with less on all days. None of them never bakes.

    Parameters
    ----------
    rule : Rule
    line : Line
    futures : Futures
    """
    days, most = rule.bake_days, starts.most_level(line)
    found = [_less(rule, days, share) for share in LESS]
    for place, day in enumerate(days):
        need = starts.mean_need(days, day, line, futures)
        for share in LESS:
            less = _less(rule, (day,), share)
            more = less.targets.astype(np.int32)
            more[days[place - 1]] += round((1 - share) * need)
            both = replace(less, targets=np.minimum(more, most).astype(np.int16))
            found += [less, both] if len(days) > 1 else [less]
    for share in SMALLER:
        pans = int(share * rule.targets.max()) // line.units_per_pan
        ceiling = line.most_units(pans * line.units_per_pan)
        if pans and (rule.ceiling is None or ceiling < rule.ceiling):
            found.append(replace(rule, ceiling=ceiling))
    return [one for one in found if one.bake_days]


def _less(rule: Rule, weekdays: tuple[int, ...], share: float) -> Rule:
    """With a share of its target on some weekdays, and no bake where it could never be needed."""
    targets = rule.targets.copy()
    for day in weekdays:
        target = round(share * int(rule.targets[day]))
        targets[day] = target if target >= rule.least_need else NO_BAKE
    return replace(rule, targets=targets)
