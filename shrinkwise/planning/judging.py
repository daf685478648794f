"""The rule of a line: the finalists of the search, judged on futures that it has not seen."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.optimum import gap_to_optimum_pct, optimum
from shrinkwise.planning.outcome import TIE_PCT, Floats, tie_margin, weighed
from shrinkwise.planning.rule import COUNTS, Rule, policy_of
from shrinkwise.planning.search import best_rules
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Store

PLAIN = (COUNTS.index("units"), False, False, False)
"""A top-up without a table or a ceiling that does not wait (see `_bother`)."""


@dataclass(frozen=True)
class Choice:
    """The rule that was chosen and those it was chosen from, the lowest loss first.

    Attributes
    ----------
    rule : Rule
    options : tuple of Rule
    losses : array of float, shape (n_options, n_paths)
        Weekly loss on the judging futures [money per week].
    short_of_floor_pct : array of float, shape (n_options,)
        By how much each falls short of the line's in-stock floor [% of open days].
    present_days : tuple of int
        On which the store bakes the line now.
    gap_to_optimum_pct : float or None
        Of the line's own choice: see `planning.optimum`; not told of one for the store's sake.
    """

    rule: Rule
    options: tuple[Rule, ...]
    losses: Floats
    short_of_floor_pct: Floats
    present_days: tuple[int, ...]
    gap_to_optimum_pct: float | None

    @property
    def next_simpler(self) -> Rule | None:
        """The best option that counts less on the shelf than the chosen rule, if there is one."""
        level = COUNTS.index(self.rule.counts)
        return next((rule for rule in self.options if COUNTS.index(rule.counts) < level), None)

    def by_days(self) -> list[tuple[Rule, float]]:
        """For each set of bake days the rule to take and its cost, the lowest first.

        What ties with the best of all costs what that costs [money per week]. A set whose best
        rule falls shorter of the floor than the best of all is left out.
        """
        found = {}
        for days in dict.fromkeys(rule.bake_days for rule in self.options):
            of_set = [i for i, rule in enumerate(self.options) if rule.bake_days == days]
            if self.short_of_floor_pct[of_set[0]] <= self.short_of_floor_pct[0]:
                index = tied(self, of_set)[0]
                found[index] = float(self.costs(self.losses[[index]])[0])
        return [(self.options[index], cost) for index, cost in found.items()]

    def costs(self, losses: Floats) -> Floats:
        """What rules cost, from their weekly losses on the same futures [money per week].

        What ties with the best option, or is better by luck, costs what that costs.

        Parameters
        ----------
        losses : array of float, shape (n_rules, n_paths)
            [money per week]
        """
        difference = losses - self.losses[0]
        tied = [one.mean() <= tie_margin(one, self.losses[0]) for one in difference]
        return np.where(tied, self.losses[0].mean(), losses.mean(axis=1))

    def taking(self, rule: Rule, losses: Floats, short_of_floor_pct: float) -> "Choice":
        """The choice with another rule chosen, which joins the options if it is not among them.

        Parameters
        ----------
        rule : Rule
        losses : array of float, shape (n_paths,)
            [money per week]
        short_of_floor_pct : float
            [% of open days]
        """
        if any(one is rule for one in self.options):
            return replace(self, rule=rule, gap_to_optimum_pct=None)
        place = int((self.losses.mean(axis=1) < losses.mean()).sum())
        return replace(
            self,
            rule=rule,
            options=(*self.options[:place], rule, *self.options[place:]),
            losses=np.insert(self.losses, place, losses, axis=0),
            short_of_floor_pct=np.insert(self.short_of_floor_pct, place, short_of_floor_pct),
            gap_to_optimum_pct=None,
        )

    def shown(self, n: int) -> tuple[Rule, ...]:
        """The best rule of each of the first `n` sets of bake days, the chosen rule, the next
        simpler one, and the best plain top-up."""
        plain = [rule for rule in self.options if _bother(rule, ())[: len(PLAIN)] == PLAIN]
        best = {rule.bake_days: rule for rule in reversed(self.options)}
        sets = list(dict.fromkeys(rule.bake_days for rule in self.options))[:n]
        wanted = [self.rule, self.next_simpler, *plain[:1], *(best[days] for days in sets)]
        return tuple(rule for rule in self.options if any(rule is one for one in wanted))


def chosen_rule(
    line: Line,
    store: Store,
    judging: Judging,
    present_days: tuple[int, ...],
    settings: PlanSettings,
) -> Choice:
    """The rule of least loss among the finalists, on futures that the search has not seen.

    Of those that cost the same within the noise of the futures, and in the typical week where the
    optimum can be told, the simplest is chosen: one that counts nothing or less on the shelf, has
    no ceiling, does not wait, then the one with the fewest bake days, then that with the store's
    present days. A target of no units is no bake. A line that costs more than it brings has no
    bake day.

    Parameters
    ----------
    line : Line
    store : Store
    judging : Judging
        Futures of the line.
    present_days : tuple of int
        Weekdays on which the store bakes the line now, Monday 0.
    settings : PlanSettings

    Returns
    -------
    Choice
        All finalists are its options.
    """
    found = best_rules(
        line, store.labour, judging.search, store.bake_weekdays(line), present_days, settings
    )
    finalists = [_as_told(rule, line) for rule in found]
    best = optimum(line, store, judging.search, finalists[0])
    if best is not None and line.shelf_life_days > 1:
        finalists.append(best.rule)
    result = weighed(line, store.labour, judging.judge, policy_of(finalists, judging.judge, line))
    order = [int(index) for index in np.argsort(result.demerits, kind="stable")]
    options = tuple(finalists[index] for index in order)
    choice = Choice(
        rule=options[0],
        options=options,
        losses=result.losses[order],
        short_of_floor_pct=result.short_of_floor_pct[order],
        present_days=present_days,
        gap_to_optimum_pct=None,
    )

    def gap(rule: Rule) -> float | None:
        return gap_to_optimum_pct(line, store, judging.search, rule, best)

    least = gap(options[0])
    for index in tied(choice, range(len(options))):
        of_rule = gap(options[index])
        # the optimum tells what is lost in the noise of the futures
        if least is None or of_rule is None or of_rule <= least + TIE_PCT:
            break
    return replace(choice, rule=options[index], gap_to_optimum_pct=of_rule)


def tied(choice: Choice, among: Sequence[int]) -> list[int]:
    """Of some options, those that cost the same as the first of them.

    Parameters
    ----------
    choice : Choice
    among : sequence of int
        Indices of options, the best first; one or more.

    Returns
    -------
    list of int
        Indices, the simplest option first.
    """
    found = [index for index in among if _ties(choice, index, among[0])]
    return sorted(found, key=lambda index: _bother(choice.options[index], choice.present_days))


def _ties(choice: Choice, index: int, best: int) -> bool:
    """Whether an option costs as good as the same as the best, or within the noise of the futures
    does."""
    difference = choice.losses[index] - choice.losses[best]
    return bool(
        choice.short_of_floor_pct[index] <= choice.short_of_floor_pct[best]
        and difference.mean() <= tie_margin(difference, choice.losses[best])
    )


def _as_told(rule: Rule, line: Line) -> Rule:
    """The rule without empty bakes, its set batches as they are baked."""
    targets = [int(target) if target > 0 else NO_BAKE for target in rule.targets]
    if rule.counts == "nothing":
        targets = [line.batch_for(target) or NO_BAKE for target in targets]
    return replace(rule, targets=np.array(targets, np.int16))


def _bother(rule: Rule, present_days: tuple[int, ...]) -> tuple[int, bool, bool, bool, int, bool]:
    """What is counted, whether there is a table of batches, a ceiling and a wait, the number of
    bake days, and whether they are others than now."""
    return (
        COUNTS.index(rule.counts),
        rule.batch_table is not None,
        rule.ceiling is not None,
        rule.least_need > 1,
        len(rule.bake_days),
        rule.bake_days != present_days,
    )
