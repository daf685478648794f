"""The store's choice: one rule for each line under what the lines share."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import inf

import numpy as np
from scipy.special import ndtri

from shrinkwise.errors import PlanError
from shrinkwise.planning.assignment import ROUNDING, Assignment, Floats, Picks
from shrinkwise.planning.day_use import BUSY, DayUse, busy, daily_use
from shrinkwise.planning.limit_use import LimitUse, StoreChoice
from shrinkwise.planning.offers import Offers
from shrinkwise.planning.outcome import played
from shrinkwise.planning.overruns import overrun_text
from shrinkwise.planning.rule import policy_of
from shrinkwise.profile.capacity import Limit
from shrinkwise.profile.store import Store
from shrinkwise.progress import no_progress, on_all_cores

SMALL = 1e-3
"""Gain that is no gain [money per week]."""

MOST_ROUNDS = 12
"""In which the busy days of a choice are held against the limits."""

DEVIATIONS = float(ndtri(BUSY))
"""By how many standard deviations a busy day is above the mean, of many lines together."""


@dataclass(frozen=True, eq=False)
class _Settled:
    """Rules of all lines, what they cost and what they use."""

    picks: Picks
    cost: float
    mean: DayUse
    busy: DayUse


@dataclass(frozen=True, eq=False)
class _Search:
    store: Store
    offers: Sequence[Offers]
    programme: Assignment
    pans_variance: Floats
    days_of: dict[int, DayUse] = field(default_factory=dict)

    def settled(
        self, limits: Sequence[Limit], start: _Settled, below: float = inf
    ) -> _Settled | None:
        """The least cost within limits, the pans on busy days; None where nothing was found that
        costs less than `below`.

        Parameters
        ----------
        limits : sequence of Limit
        start : _Settled
            Rules around which the first look is taken; they need not keep within the limits.
        below : float
            [money per week]
        """
        found, at, seen = None, start, {start.picks}
        pans, hours = _least(limits, "pans"), _least(limits, "hours")
        for _ in range(MOST_ROUNDS):
            programme, margin = self.around(at)
            picks = programme.solve(pans - margin, hours, below)
            if picks is None or picks in seen:
                break
            seen.add(picks)
            at = self.used(picks)
            if at.cost < below - SMALL and _within(at, limits):
                found, below = at, at.cost
        return found

    def around(self, at: _Settled) -> tuple[Assignment, Floats]:
        """The programme in which pans stand for those of a busy day, and what is to be added.

        Lines are not busy on the same days: of many, a busy day takes the mean and some standard
        deviations of the sum. That is taken as linear in the variances around the rules at hand,
        of which it is exactly what they take.
        """
        rows = np.array(at.picks)
        variance = np.maximum(self.pans_variance[rows].sum(axis=0), 1.0)
        pans = self.programme.pans + DEVIATIONS / (2 * np.sqrt(variance)) * self.pans_variance
        return replace(self.programme, pans=pans), at.busy.pans - pans[rows].sum(axis=0)

    def nearest(self, limits: Sequence[Limit], start: _Settled) -> _Settled:
        """Rules that come near to the limits, where none were found to keep within them."""
        programme, margin = self.around(start)
        pans = _least(limits, "pans") - margin
        return self.used(programme.nearest(pans, _least(limits, "hours")))

    def used(self, picks: Picks) -> _Settled:
        """What rules cost and use, all lines together."""
        programme, rows = self.programme, np.array(picks)
        total = self._days(picks[0])
        for pick in picks[1:]:
            total = total + self._days(pick)
        opened = programme.bakes[rows].any(axis=0)
        opening = DayUse(np.zeros(7), programme.opening_hours * opened)
        means = DayUse(programme.pans[rows].sum(axis=0), programme.hours[rows].sum(axis=0))
        futures = self.offers[0].futures
        on_busy_days = DayUse(busy(total.pans, futures), busy(total.hours, futures))
        cost = float(programme.costs[rows].sum()) + programme.opening_cost * int(opened.sum())
        return _Settled(picks, cost, means + opening, on_busy_days + opening)

    def _days(self, pick: int) -> DayUse:
        """What the rule uses on every counted day of every path."""
        if pick not in self.days_of:
            line = int(self.programme.line[pick])
            one = self.offers[line]
            rule = one.rules[pick - self.first(line)]
            policy = policy_of([rule], one.futures, one.line)
            flows = played(one.line, one.futures, policy, by_day=True)
            self.days_of[pick] = daily_use(flows, one.line, self.store.labour, one.futures).of(0)
        return self.days_of[pick]

    def first(self, line: int) -> int:
        """Position of a line's own choice among the rules of all lines."""
        return int(np.searchsorted(self.programme.line, line))

    def places(self, chosen: _Settled) -> Picks:
        """For each line the position of its rule among its offers."""
        return tuple(pick - self.first(line) for line, pick in enumerate(chosen.picks))

    def worth(self, limit: Limit, limits: Sequence[Limit], chosen: _Settled) -> Floats:
        """What one more of a limit saves on each weekday, shape (7,) [money per week]."""

        def saved(day: int) -> float:
            most = tuple(n + limit.one_more * (d == day) for d, n in enumerate(limit.most))
            raised = [replace(one, most=most) if one is limit else one for one in limits]
            if np.array_equal(_least(raised, limit.unit), _least(limits, limit.unit)):
                return 0.0
            found = self.settled(raised, chosen, chosen.cost)
            return 0.0 if found is None else max(chosen.cost - found.cost, 0.0)

        return np.array(on_all_cores(saved, range(7), no_progress))


def choose_for_store(store: Store, offers: Sequence[Offers]) -> StoreChoice:
    """One rule for each line, of least cost to the store within its capacity.

    A baking day is opened once for all lines. Hours are held against the limit on average, pans
    on a busy day.

    Parameters
    ----------
    store : Store
    offers : sequence of Offers
        Of every line, at least one.

    Raises
    ------
    PlanError
        When the rules offered cannot keep within the capacity; it names limit, weekday and
        amounts.
    """
    search, free, chosen = _chosen(store, offers)
    limits = _limits(store)
    bound = chosen is not free
    return StoreChoice(
        picks=search.places(chosen),
        mean=chosen.mean,
        busy=chosen.busy,
        limits=tuple(
            LimitUse(
                limit,
                _slack(limit, chosen),
                search.worth(limit, limits, chosen) if bound else np.zeros(7),
            )
            for limit in limits
        ),
        cost_of_limits=chosen.cost - free.cost,
    )


def picks_for_store(store: Store, offers: Sequence[Offers]) -> tuple[Picks, bool]:
    """The picks of `choose_for_store`, and whether limits had a part in them: quicker than all
    that they are worth."""
    search, free, chosen = _chosen(store, offers)
    return search.places(chosen), chosen is not free


def _chosen(store: Store, offers: Sequence[Offers]) -> tuple[_Search, _Settled, _Settled]:
    """The search, the rules chosen if there were no limits, and those chosen within them."""
    limits = _limits(store)
    variance = np.concatenate([one.pans_variance for one in offers])
    search = _Search(store, offers, _programme(store, offers), variance)
    alone = search.used(tuple(search.first(line) for line in range(len(offers))))
    free = search.nearest((), alone)
    chosen = free if _within(free, limits) else search.settled(limits, free)
    if chosen is None:
        nearest = search.nearest(limits, search.nearest(limits, free))
        below = nearest.cost if _within(nearest, limits) else inf
        chosen = search.settled(limits, nearest, below) or nearest
        if store.capacity is not None and not _within(chosen, limits):
            raise PlanError(
                overrun_text(store.capacity, [_slack(limit, chosen) for limit in limits])
            )
    return search, free, chosen


def _limits(store: Store) -> tuple[Limit, ...]:
    return () if store.capacity is None else store.capacity.limits


def _programme(store: Store, offers: Sequence[Offers]) -> Assignment:
    labour = store.labour
    hours = labour.minutes_per_baking_day / 60
    return Assignment(
        line=np.repeat(np.arange(len(offers)), [len(one.rules) for one in offers]),
        costs=np.concatenate([one.costs for one in offers]),
        bakes=np.concatenate([one.bakes for one in offers]),
        pans=np.concatenate([one.use.pans for one in offers]),
        hours=np.concatenate([one.use.hours for one in offers]),
        opening_cost=labour.wage_per_hour * hours,
        opening_hours=hours,
    )


def _least(limits: Sequence[Limit], unit: str) -> Floats:
    """What there is of pans or hours by weekday under all limits, shape (7,)."""
    return np.array([limit.most for limit in limits if limit.unit == unit] + [(inf,) * 7]).min(0)


def _slack(limit: Limit, found: _Settled) -> Floats:
    used = found.busy.pans if limit.unit == "pans" else found.mean.hours
    return np.array(limit.most) - used


def _within(found: _Settled, limits: Sequence[Limit]) -> bool:
    return all(bool((_slack(limit, found) >= -ROUNDING).all()) for limit in limits)
