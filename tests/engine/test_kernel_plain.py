"""The kernel against a plain account that moves every unit by itself, on random small worlds."""

from dataclasses import dataclass, field

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate


@dataclass
class Account:
    """One path of one plan, unit by unit; a unit is the day on which it was baked."""

    units: list[int] = field(default_factory=list)
    sold_by_age: dict[int, int] = field(default_factory=dict)
    batches: dict[int, int] = field(default_factory=dict)
    disposed: int = 0
    unmet: int = 0
    short_days: int = 0
    labelled: int = 0


@dataclass
class World:
    streams: NDArray[np.int16]
    after: NDArray[np.int16] | None
    levels: NDArray[np.int16]
    credit: float
    taken: NDArray[np.int16] | None
    step: int
    least: int
    most: NDArray[np.int16]
    need_from: int
    is_open: NDArray[np.bool_]
    shelf: Shelf
    first_day: int
    count_all: bool
    opening: list[int]
    table: NDArray[np.int16] | None
    by_table: NDArray[np.bool_] | None
    lifted: NDArray[np.int16] | None

    def decided(self, day: int, counted: list[int]) -> int:
        """The batch of a day from the units counted."""
        life = self.shelf.life_days
        old = [unit for unit in counted if day - unit < life]
        if self.table is not None and self.by_table is not None and self.by_table[day]:
            by_age = [sum(day - unit == age for unit in old) for age in range(1, life)]
            last = [size - 1 for size in self.table.shape[1:]]
            batch = int(self.table[day % 7, *map(min, by_age, last)])
            more = 0 if self.lifted is None else int(self.lifted[day])
            return min(max(batch + more, 0), int(self.most[day])) if batch and more else batch
        out = 0
        if self.taken is not None:
            for night in range(life - 1):
                if self.taken[day, night] < 0:
                    break
                gone = [unit for unit in old if life - (day - unit) - 1 <= night]
                out = max(out, len(gone) - int(self.taken[day, night]))
        need = int(self.levels[day]) - (len(counted) - out if self.credit else 0)
        if need < self.need_from:
            return 0
        return max(min(-(-need // self.step) * self.step, int(self.most[day])), self.least)

    def come(self, book: Account, day: int, wanted: NDArray[np.int16], counted: bool) -> int:
        """One part of the day's shoppers take their units; how many went without."""
        units = sorted(book.units)
        missed = 0

        def take(index: int) -> None:
            age = day - units.pop(index)
            if counted:
                book.sold_by_age[age] = book.sold_by_age.get(age, 0) + 1

        reduce_on = self.shelf.reduce_on_day

        def oldest_is_reduced() -> bool:
            return bool(units) and reduce_on is not None and day - units[0] >= reduce_on - 1

        switching = wanted[4] if len(wanted) == 5 else 0
        for kind, n in (("oldest", wanted[0]), ("switching", switching), ("freshest", wanted[1])):
            for _ in range(n):
                if units:
                    old = kind == "oldest" or (kind == "switching" and oldest_is_reduced())
                    take(0 if old else -1)
                else:
                    missed += 1
        if len(wanted) == 5:
            fussy_until = self.shelf.fussy_until_day
            assert fussy_until is not None
            for _ in range(wanted[2]):
                if units and day - units[-1] < fussy_until:
                    take(-1)
                else:
                    missed += 1
            for _ in range(wanted[3]):
                if oldest_is_reduced():
                    take(0)
        book.units = units
        return missed

    def account(self) -> Account:
        book, life = Account(units=list(self.opening)), self.shelf.life_days
        n_days = self.streams.shape[1]
        batch = 0
        for day in range(n_days):
            counted = day >= self.first_day
            if self.levels[day] != NO_BAKE and self.is_open[day]:
                if day == 0 or self.after is None:
                    batch = self.decided(day, book.units)
                book.units += [day] * batch
                book.batches[day] = batch
            reduce_on = self.shelf.reduce_on_day
            if self.is_open[day] and counted and reduce_on is not None:
                # what has come due since the last open morning
                since = day
                while since > 0 and not self.is_open[since - 1]:
                    since -= 1
                due = range(since - reduce_on + 1, day - reduce_on + 2)
                book.labelled += sum(unit in due for unit in book.units)
            missed = 0
            late = self.streams[:, day, 0]
            if self.after is not None:
                late = self.after[:, day, 0]
                if self.is_open[day]:
                    missed = self.come(book, day, self.streams[:, day, 0] - late, counted)
                seen = [unit for unit in book.units if self.count_all or day - unit < life - 1]
                if day + 1 < n_days:
                    batch = self.decided(day + 1, seen)
            if self.is_open[day]:
                missed += self.come(book, day, late, counted)
            if counted:
                book.unmet += missed
                book.short_days += missed > 0
                book.disposed += sum(day - unit == life - 1 for unit in book.units)
            book.units = [unit for unit in book.units if day - unit < life - 1]
        return book


@st.composite
def worlds(draw: st.DrawFn) -> World:
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    life, n_days = draw(st.integers(1, 5)), draw(st.integers(2, 16))
    kinds, in_parts = draw(st.sampled_from([2, 5])), draw(st.booleans())
    credit = float(draw(st.integers(0, 1)))
    count_all = in_parts and draw(st.booleans())
    step = draw(st.integers(1, 4))
    levels = rng.integers(0, 25, n_days).astype(np.int16)
    levels[rng.random(n_days) < 0.3] = NO_BAKE
    streams = rng.poisson(rng.uniform(0.5, 6), (kinds, n_days, 1)).astype(np.int16)
    taken = None
    if credit == 1.0 and not count_all and draw(st.booleans()):
        taken = np.cumsum(rng.integers(0, 6, (n_days, life)), axis=1).astype(np.int16)
        taken[np.arange(life) >= rng.integers(0, life + 1, n_days)[:, None]] = -1
    least = step * draw(st.integers(0, 3))
    reduce_on = draw(st.sampled_from([None, *range(1, life + 1)]))
    table = by_table = lifted = None
    if not in_parts and draw(st.booleans()):
        table = rng.integers(0, 12, (7, *rng.integers(1, 5, life - 1))).astype(np.int16)
        by_table = rng.random(n_days) < 0.7
        if draw(st.booleans()):
            lifted = rng.integers(-4, 5, n_days).astype(np.int16)
    most = least + step * rng.integers(1, 6, n_days)
    return World(
        streams=streams,
        after=rng.binomial(streams, rng.uniform(0, 1)).astype(np.int16) if in_parts else None,
        levels=levels,
        credit=credit,
        taken=taken,
        step=step,
        least=least,
        most=most.astype(np.int16),
        need_from=draw(st.integers(1, 6)),
        is_open=rng.random(n_days) < 0.85,
        shelf=Shelf(life, reduce_on, int(rng.integers(1, life + 1)) if kinds == 5 else None),
        first_day=int(rng.integers(0, n_days)),
        count_all=count_all,
        opening=[-int(age) for age in rng.integers(1, life, 6)] if life > 1 else [],
        table=table,
        by_table=by_table,
        lifted=lifted,
    )


def by_kernel(world: World) -> Flows:
    policy = Policy(
        world.levels[None, :, None],
        np.array([world.credit]),
        batch_step=world.step,
        units_per_pan=3,
        least_batch=world.least,
        need_from=np.array([world.need_from], np.int16),
        most_batch=world.most[None],
        taken=None if world.taken is None else world.taken[None],
        count_all=world.count_all,
        by_table=None if world.by_table is None else world.by_table[None],
        table=world.table,
        lifted=None if world.lifted is None else world.lifted[None],
    )
    n_days = world.streams.shape[1]
    opening = np.zeros((world.shelf.life_days, 1), np.int16)
    for unit in world.opening:
        opening[-unit] += 1
    days = Days(np.arange(n_days) % 7, world.is_open, world.first_day)
    return simulate(
        world.streams, policy, world.shelf, days, opening, after_count=world.after, by_day=True
    )


@settings(max_examples=600, deadline=None)
@given(worlds())
def test_the_kernel_agrees_with_the_plain_account_to_the_unit(world: World) -> None:
    flows, book = by_kernel(world), world.account()
    ages = range(world.shelf.life_days)
    assert flows.batches[0, :, 0].tolist() == [
        book.batches.get(day, 0) for day in range(world.streams.shape[1])
    ]
    assert flows.sold_by_age[0, :, 0].tolist() == [book.sold_by_age.get(age, 0) for age in ages]
    assert flows.disposed[0, 0] == book.disposed
    assert flows.unmet[0, 0] == book.unmet
    assert flows.short_days[0, 0] == book.short_days
    assert flows.labelled[0, 0] == book.labelled
    assert flows.closing[0, 0] == len(book.units)
    counted = {day: units for day, units in book.batches.items() if day >= world.first_day}
    assert flows.baked[0, :, 0].sum() == sum(counted.values())
    assert flows.bakes[0, :, 0].sum() == sum(units > 0 for units in counted.values())
    assert flows.pans[0, 0] == sum(-(-units // 3) for units in counted.values())
