"""What holds on every shelf, whatever is baked and whoever comes."""

from dataclasses import dataclass, fields, replace
from math import ceil

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from shrinkwise.engine.policy import NO_BAKE, Days, Policy, Shelf
from shrinkwise.engine.simulate import Flows, simulate
from shrinkwise.engine.streams import split_demand
from shrinkwise.money.week import Quantities, money_of
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour

Ints = NDArray[np.int64]

# the first call compiles the kernel, so no single example has a deadline
thorough = settings(max_examples=150, deadline=None, derandomize=True)


@dataclass(frozen=True)
class Case:
    """Everything that `simulate` is given, for some plans and paths."""

    streams: NDArray[np.int16]
    policy: Policy
    shelf: Shelf
    days: Days
    opening: NDArray[np.int16]

    def played(self) -> Flows:
        return simulate(self.streams, self.policy, self.shelf, self.days, self.opening)


@st.composite
def cases(draw: st.DrawFn, credits: tuple[float, ...] = (0.0, 0.3, 0.75, 1.0)) -> Case:
    """Small shelves: short lives, closed days, set batches and targets, two kinds of shopper.

    Sizes are drawn by hypothesis, the many numbers in them by a generator that it seeds.
    """
    n_days = draw(st.integers(1, 25))
    n_paths = draw(st.integers(1, 4))
    n_plans = draw(st.integers(1, 3))
    life = draw(st.integers(1, 6))
    reduce_on_day = draw(st.one_of(st.none(), st.integers(1, life)))
    step = draw(st.integers(1, 5))
    most = draw(st.integers(1, 15))
    share_baked, share_open = (
        draw(st.sampled_from([0.3, 0.6, 1.0])),
        draw(st.sampled_from([0.5, 0.8, 1.0])),
    )
    first_day = draw(st.integers(0, n_days - 1))
    rng = np.random.default_rng(draw(st.integers(0, 2**31)))
    per_path = draw(st.booleans())
    levels = rng.integers(0, 2 * most + 1, (n_plans, n_days, n_paths if per_path else 1))
    levels[rng.random((n_plans, n_days)) > share_baked] = NO_BAKE
    opening = rng.integers(0, most + 1, (life, n_paths))
    opening[0] = 0
    return Case(
        streams=rng.integers(0, most + 1, (2, n_days, n_paths)).astype(np.int16),
        policy=Policy(
            levels.astype(np.int16),
            np.array([draw(st.sampled_from(credits)) for _ in range(n_plans)]),
            step,
            draw(st.integers(1, 5)),
        ),
        shelf=Shelf(life, reduce_on_day),
        days=Days(
            (np.arange(n_days) + draw(st.integers(0, 6))) % 7,
            rng.random(n_days) < share_open,
            first_day,
        ),
        opening=opening.astype(np.int16),
    )


@dataclass
class Twin:
    """One plan on one path, told day by day in plain words: {age: units} on the shelf.

    Freshest-first shoppers come before oldest-first ones here; the kernel has it the other way.
    """

    sold: Ints
    baked: Ints
    pans: int = 0
    bakes: int = 0
    labelled: int = 0
    disposed: int = 0
    unmet: int = 0
    short_days: int = 0
    opening: int = 0
    closing: int = 0


def twin_of(case: Case, plan: int, path: int) -> Twin:
    life, step = case.shelf.life_days, case.policy.batch_step
    reduce_age = life if case.shelf.reduce_on_day is None else case.shelf.reduce_on_day - 1
    levels = case.policy.levels[plan]
    shelf = {age: int(case.opening[age, path]) for age in range(life)}
    # what is past its day of reduction before the first day was relabelled before it
    plain = {age: units if age <= reduce_age else 0 for age, units in shelf.items()}
    twin = Twin(np.zeros(life, np.int64), np.zeros(7, np.int64))
    for day in range(len(levels)):
        counted = day >= case.days.first_day
        on_hand = sum(shelf.values())
        if day == case.days.first_day:
            twin.opening = on_hand
        missed = 0
        sold = np.zeros(life, np.int64)
        batch = labelled = 0
        if case.days.is_open[day]:
            level = int(levels[day, path if levels.shape[1] > 1 else 0])
            if level != NO_BAKE:
                need = level - case.policy.credit[plan] * on_hand
                batch = max(0, ceil(round(need / step, 9))) * step
                shelf[0] = plain[0] = batch
            for age in range(life):
                if age >= reduce_age and plain[age]:
                    labelled += shelf[age]
                    plain[age] = 0
            for kind, ages in ((1, range(life)), (0, range(life - 1, -1, -1))):
                wanted = int(case.streams[kind, day, path])
                for age in ages:
                    taken = min(wanted, shelf[age])
                    shelf[age] -= taken
                    sold[age] += taken
                    wanted -= taken
                missed += wanted
        disposed = shelf[life - 1]
        shelf = {0: 0} | {age + 1: shelf[age] for age in range(life - 1)}
        plain = {0: 0} | {age + 1: plain[age] for age in range(life - 1)}
        if counted:
            twin.sold += sold
            twin.baked[case.days.weekday[day]] += batch
            twin.bakes += batch > 0
            twin.pans += ceil(batch / case.policy.units_per_pan)
            twin.labelled += labelled
            twin.disposed += disposed
            twin.unmet += missed
            twin.short_days += missed > 0
    twin.closing = sum(shelf.values())
    return twin


@thorough
@given(cases())
def test_the_order_of_the_two_kinds_of_shopper_within_a_day_cannot_matter(case: Case) -> None:
    """Every figure of the kernel is that of a plain account with the other order."""
    flows = case.played()
    n_plans, _, n_paths = flows.baked.shape
    for plan in range(n_plans):
        for path in range(n_paths):
            twin = twin_of(case, plan, path)
            assert flows.sold_by_age[plan, :, path].tolist() == twin.sold.tolist()
            assert flows.baked[plan, :, path].tolist() == twin.baked.tolist()
            assert flows.bakes[plan, :, path].sum() == twin.bakes
            for name in ("pans", "labelled", "disposed", "unmet", "short_days", "opening",
                         "closing"):  # fmt: skip
                assert getattr(flows, name)[plan, path] == getattr(twin, name), name


@thorough
@given(cases())
def test_units_neither_appear_nor_vanish(case: Case) -> None:
    """Opening + baked = sold + disposed + closing; wanted = sold + unmet."""
    flows = case.played()
    sold = flows.sold_full + flows.sold_reduced
    baked = flows.baked.sum(axis=1)
    assert (flows.opening + baked == sold + flows.disposed + flows.closing).all()
    counted = case.days.is_open & (np.arange(len(case.days.is_open)) >= case.days.first_day)
    wanted = case.streams[:, counted].sum(axis=(0, 1))
    assert (sold + flows.unmet == wanted).all()
    for field in fields(flows):
        assert np.all(np.asarray(getattr(flows, field.name)) >= 0), field.name
    if case.days.first_day == 0:
        assert (flows.opening == case.opening.sum(axis=0)).all()


def all_of_one_kind(case: Case, oldest: bool) -> Case:
    both = case.streams.sum(axis=0, dtype=np.int16)
    streams = np.zeros_like(case.streams)
    streams[0 if oldest else 1] = both
    return replace(case, streams=streams)


@thorough
@given(cases(credits=(0.0,)))
def test_oldest_first_never_throws_more_than_freshest_first(case: Case) -> None:
    """For the same set batches and the same shoppers, counted from the first day."""
    case = replace(case, days=replace(case.days, first_day=0))
    oldest = all_of_one_kind(case, True).played()
    freshest = all_of_one_kind(case, False).played()
    assert (oldest.baked == freshest.baked).all()
    assert (oldest.disposed <= freshest.disposed).all()
    assert (oldest.unmet <= freshest.unmet).all()


def test_the_two_kinds_do_differ() -> None:
    """The property above is not one of equality: here freshest first throws two units more."""
    case = Case(
        np.array([[[2], [2]], [[0], [0]]], np.int16),
        Policy(np.array([[[4], [4]]], np.int16), np.zeros(1)),
        Shelf(2),
        Days(np.arange(2), np.ones(2, bool)),
        np.zeros((2, 1), np.int16),
    )
    disposed = [int(all_of_one_kind(case, kind).played().disposed[0, 0]) for kind in (True, False)]
    assert disposed == [0, 2]


@thorough
@given(cases(credits=(0.0,)))
def test_a_longer_life_never_throws_more_of_the_same_batches(case: Case) -> None:
    case = replace(case, days=replace(case.days, first_day=0), shelf=Shelf(case.shelf.life_days))
    more = np.concatenate([case.opening, np.zeros_like(case.opening[:1])])
    longer = replace(case, shelf=Shelf(case.shelf.life_days + 1), opening=more)
    now, then = case.played(), longer.played()
    assert (now.baked == then.baked).all()
    assert (then.disposed <= now.disposed).all()
    assert (then.unmet <= now.unmet).all()


@thorough
@given(
    cases(),
    st.floats(0.5, 9.0),
    st.floats(0.0, 0.95),
    st.floats(0.05, 0.95),
    st.floats(0.0, 1.0),
    st.floats(0.0, 60.0),
)
def test_result_and_loss_add_up_to_what_the_demand_alone_decides(
    case: Case, price: float, cost_share: float, reduced_share: float, disposal: float, wage: float
) -> None:
    """Result + loss = margin x units wanted - dough cost x stock change, for every plan.

    So a plan that loses less earns exactly that much more: the two ways of counting agree.
    """
    reduced = case.shelf.reduce_on_day is not None
    line = Line(
        name="Any loaf",
        category="breads",
        price=price,
        dough_cost=price * cost_share,
        disposal_cost=disposal,
        shelf_life_days=case.shelf.life_days,
        reduce_on_day=case.shelf.reduce_on_day,
        reduced_price=price * reduced_share if reduced else None,
        filled=False,
    )
    flows = case.played()
    money = money_of(Quantities.of_flows(flows), line, Labour(wage_per_hour=wage))
    counted = case.days.is_open & (np.arange(len(case.days.is_open)) >= case.days.first_day)
    wanted = case.streams[:, counted].sum(axis=(0, 1))
    stock_change = flows.closing - flows.opening
    decided = (line.price - line.dough_cost) * wanted - line.dough_cost * stock_change
    assert money.result + money.loss == pytest.approx(decided, rel=1e-9, abs=1e-6)


@thorough
@given(cases(credits=(0.0, 1.0)))
def test_a_batch_is_the_least_number_of_whole_steps_that_does(case: Case) -> None:
    """A set batch takes nothing off its level, a target everything on hand; one week, day by day.

    In a week no weekday comes twice, so flows by weekday are flows by day; the stock before a
    bake is the opening stock of the same week counted from that day on.
    """
    n_days = min(7, len(case.days.is_open))
    case = replace(
        case,
        streams=case.streams[:, :n_days],
        policy=replace(case.policy, levels=case.policy.levels[:, :n_days]),
        days=Days(np.arange(n_days), case.days.is_open[:n_days]),
    )
    step = case.policy.batch_step
    batches = case.played().baked
    for day in range(n_days):
        levels = np.broadcast_to(case.policy.levels[:, day], batches[:, day].shape)
        before = replace(case, days=replace(case.days, first_day=day)).played().opening
        need = np.maximum(levels - case.policy.credit[:, None].astype(int) * before, 0)
        batch = batches[:, day]
        if not case.days.is_open[day]:
            assert not batch.any()
            continue
        assert (batch % step == 0).all()
        assert (batch >= need).all()
        assert (batch - need < step).all()


@thorough
@given(st.integers(0, 2**31), st.floats(0, 1), st.integers(1, 40))
def test_the_same_seed_gives_the_same_bytes(seed: int, share: float, most: int) -> None:
    demand = np.random.default_rng(1).integers(0, most + 1, (14, 5))
    shares = np.full(5, share)
    first, again = (split_demand(demand, shares, seed) for _ in range(2))
    assert first.tobytes() == again.tobytes()
    assert (first.sum(axis=0) == demand).all()
    days = Days(np.arange(14) % 7, np.ones(14, bool))
    policy = Policy(np.full((1, 14, 1), most, np.int16), np.ones(1))
    one, two = (simulate(first, policy, Shelf(3, 3), days) for _ in range(2))
    for field in fields(one):
        assert np.array_equal(getattr(one, field.name), getattr(two, field.name))


def test_another_seed_gives_another_split() -> None:
    demand = np.full((14, 5), 9)
    shares = np.full(5, 0.5)
    assert split_demand(demand, shares, 1).tobytes() != split_demand(demand, shares, 2).tobytes()


def test_the_split_has_the_share_that_was_asked_for() -> None:
    """Within four standard errors of a binomial share, path by path; the ends are exact."""
    demand = np.full((400, 3), 25)
    oldest = split_demand(demand, np.array([0.0, 0.3, 1.0]), 1)[0].sum(axis=0) / demand.sum(axis=0)
    assert oldest[0] == 0.0
    assert oldest[2] == 1.0
    assert abs(oldest[1] - 0.3) < 4 * np.sqrt(0.3 * 0.7 / 10_000)
