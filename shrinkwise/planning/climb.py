"""Climbs: rules improved one step at a time, side by side, on the same futures."""

from collections.abc import Generator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from shrinkwise.planning.futures import Futures
from shrinkwise.planning.moves import SMALL, moves, shifts, together
from shrinkwise.planning.outcome import Floats, demerits
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

COARSEST, ROUGH = 8, 16
"""Parts of its largest target: in steps from the one down to the other a rule is first improved;
a good one begins with the other."""

COARSE = 24
"""Targets up to which a unit is coarse enough for two weekdays to have to move at once [units]."""

PART = 4
"""Futures for one on which a move is tried first when polishing."""

HOPEFUL = (0.0005, 0.0015)
"""By how much more a move may cost there than the rule that is polished, to be tried on all of the
futures: at once, and where no other move helps [share of the demerit]."""

CLOSING = (*HOPEFUL, 0.003)
"""The same for moves by a unit before the rule is left as it is."""

LOT = 2**13
"""Rules times futures that are played at once: more would leave the processor's memory."""


@dataclass(frozen=True)
class Found:
    """A rule and its demerit on the futures searched (see `Weighed`)."""

    rule: Rule
    demerit: float


class Asked(NamedTuple):
    """Rules whose demerits are asked for, on all futures or on a part of them."""

    rules: Sequence[Rule]
    on_part: bool = False


@dataclass(frozen=True)
class Search:
    """A line whose rules are weighed on futures.

    Attributes
    ----------
    line : Line
    labour : Labour
    futures : Futures
    settings : PlanSettings
    """

    line: Line
    labour: Labour
    futures: Futures
    settings: PlanSettings

    def demerits(self, rules: Sequence[Rule]) -> Floats:
        """See `Weighed`; shape (n_rules,)."""
        size = max(LOT // self.futures.n_paths, 1)
        lots = [rules[start : start + size] for start in range(0, len(rules), size)]
        policies = (policy_of(lot, self.futures, self.line) for lot in lots)
        return np.concatenate(
            [demerits(self.line, self.labour, self.futures, policy) for policy in policies]
        )

    def of_rows(self, rows: Sequence[Sequence[Rule]]) -> list[Floats]:
        """The demerits of each row's rules, all of them played at once."""
        merit = self.demerits([rule for row in rows for rule in row])
        return np.split(merit, np.cumsum([len(row) for row in rows])[:-1])

    def best(self, rows: Sequence[Sequence[Rule]]) -> list[Rule]:
        """The best rule of each row."""
        merits = self.of_rows(rows)
        return [row[int(merit.argmin())] for row, merit in zip(rows, merits, strict=True)]

    def best_of(self, rules: Sequence[Rule]) -> list[Rule]:
        """The rules, the best first."""
        return [rules[int(index)] for index in np.argsort(self.demerits(rules), kind="stable")]

    def improved(
        self,
        rules: Sequence[Rule],
        last_steps: Sequence[int] | None = None,
        polishing: bool = False,
    ) -> list[Found]:
        """Each rule after a coordinate search of its own (see `_climb`), to its last step or to a
        unit.

        The searches go on side by side, so that the moves of all of them are played at once.
        """
        futures = self.futures
        part = replace(self, futures=futures.first(max(futures.n_paths // PART, 1)))
        steps = last_steps or [1] * len(rules)
        climbs = [
            self._climb(rule, step, polishing) for rule, step in zip(rules, steps, strict=True)
        ]
        found: dict[int, Found] = {}
        asked = {place: next(climb) for place, climb in enumerate(climbs)}
        while asked:
            merits: dict[int, Floats] = {}
            for search in (self, part):
                at = [place for place, one in asked.items() if one.on_part == (search is part)]
                if at:
                    of_rows = search.of_rows([asked[place].rules for place in at])
                    merits.update(zip(at, of_rows, strict=True))
            on = {}
            for place, merit in merits.items():
                try:
                    on[place] = climbs[place].send(merit)
                except StopIteration as end:
                    found[place] = end.value
            asked = on
        return [found[place] for place in range(len(rules))]

    def _climb(
        self, rule: Rule, last_step: int, polishing: bool
    ) -> Generator[Asked, Floats, Found]:
        """Coordinate search from a rule in steps that are halved down to the last; it gives the
        rules that it wants to know the demerits of, and is sent these.

        A rule that does not wait is not made to, nor is a ceiling put on one without. Polishing,
        the first steps are small, moves are tried on a part of the futures first, and small targets
        are moved on two weekdays at once at last.
        """
        step = max(last_step, int(rule.targets.max()) // (ROUGH if polishing else COARSEST))
        best = float((yield Asked([rule]))[0])
        pairs = False
        for _ in range(self.settings.most_rounds):
            tried = moves(rule, step, self.line) + (shifts(rule, self.line) if pairs else [])
            if polishing:
                bounds = HOPEFUL if step > last_step or pairs else CLOSING
                merit = yield from _merits(rule, best, tried, bounds)
            else:
                merit = yield Asked(tried)
            found = int(merit.argmin())
            if merit[found] < best - SMALL:
                chosen, least = tried[found], float(merit[found])
                # what helps by itself on several weekdays mostly helps on all of them
                joint = together(rule, tried, merit, best)
                if joint is not None and (merit_of_all := float((yield Asked([joint]))[0])) < least:
                    chosen, least = joint, merit_of_all
                rule, best = chosen, least
            elif step > last_step:
                step = max(last_step, step // 2)
            elif polishing and not pairs and int(rule.targets.max()) <= COARSE:
                pairs = True
            else:
                break
        return Found(rule, best)


def _merits(
    rule: Rule, best: float, tried: list[Rule], bounds: Sequence[float]
) -> Generator[Asked, Floats, Floats]:
    """The demerits of moves from a rule, infinite where a part of the futures says enough: those
    that are good there first, the others only where none of these is better than the rule (see
    `HOPEFUL`)."""
    of_rule, *on_part = yield Asked([rule, *tried], on_part=True)
    above = (np.array(on_part) - of_rule) / max(abs(of_rule), SMALL)
    merit = np.full(len(tried), np.inf)
    for least, most in pairwise((-np.inf, *bounds)):
        places = np.flatnonzero((above >= least) & (above < most))
        if len(places):
            merit[places] = yield Asked([tried[int(place)] for place in places])
        if merit.min() < best - SMALL:
            break
    return merit
