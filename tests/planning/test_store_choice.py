"""Two lines under what they share: the choice is the best of all that there are."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import inf

import numpy as np
import pytest

from shrinkwise.engine.policy import Days
from shrinkwise.errors import PlanError
from shrinkwise.planning.day_use import BUSY, busy
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.judging import chosen_rule
from shrinkwise.planning.limit_use import StoreChoice
from shrinkwise.planning.offers import Offers, line_offers
from shrinkwise.planning.outcome import played
from shrinkwise.planning.rule import policy_of
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.planning.store_choice import choose_for_store
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour, Store
from shrinkwise.profile.weekdays import WEEKDAYS

QUICK = PlanSettings(screen_paths=16, search_paths=16, judge_paths=16, finalists=3, leaders=1)
WEEK = np.array([9, 10, 10, 12, 20, 30, 14])
WEEKS, SETTLING = 6, 14
EVERY_DAY = tuple(range(7))
SATURDAY = 5


def line_called(name: str, **settings: object) -> Line:
    plain = {"category": "breads", "price": 4.0, "dough_cost": 1.2, "shelf_life_days": 2}
    return Line.model_validate({"name": name, "filled": False} | plain | settings)


LINES = (line_called("Rye loaf"), line_called("Bagels", shelf_life_days=3, price=3.0))
LABOUR = Labour(wage_per_hour=24, minutes_per_bake=6, minutes_per_baking_day=30)


def store_with(capacity: dict[str, object] | None, labour: Labour = LABOUR) -> Store:
    settings = {"name": "Corner store", "currency": "USD", "country": "US", "lines": LINES}
    return Store.model_validate(settings | {"labour": labour, "capacity": capacity})


def futures_of(line: Line, means: np.ndarray, noise: bool = False) -> Futures:
    """Six weeks on 16 paths with the given means by weekday, 14 days to settle before them."""
    rng = np.random.default_rng(len(line.name))
    weekday = np.arange(SETTLING + 7 * WEEKS) % 7
    by_day = np.repeat(means[weekday][:, None], 16, axis=1).astype(float)
    half = by_day / 2
    streams = rng.poisson(half, (2, *half.shape)) if noise else [np.floor(half), np.ceil(half)]
    days = Days(weekday, np.ones(len(weekday), bool), SETTLING)
    return Futures(np.array(streams, np.int16), by_day, days)


def offered(store: Store, means: np.ndarray = WEEK, noise: bool = False) -> list[Offers]:
    found = []
    for line in LINES:
        futures = futures_of(line, means, noise)
        choice = chosen_rule(line, store, Judging(futures, futures), EVERY_DAY, QUICK)
        found.append(line_offers(line, store, futures, choice))
    return found


@pytest.fixture(scope="module")
def offers() -> list[Offers]:
    """Of a demand that is the same every week, so that every weekday is a busy day."""
    return offered(store_with(None))


@pytest.fixture(scope="module")
def noisy() -> list[Offers]:
    return offered(store_with(None), noise=True)


@dataclass(frozen=True)
class Pair:
    """A rule for each of the two lines, by a count of its own."""

    cost: float
    pans: np.ndarray
    hours: np.ndarray


@pytest.fixture(scope="module")
def pairs(offers: list[Offers]) -> list[Pair]:
    return list(all_pairs(offers))


def all_pairs(offers: list[Offers]) -> Iterator[Pair]:
    """Every pair of rules: its cost, pans on a busy day and mean hours by weekday."""
    days = slice(SETTLING, None)
    batches = [
        played(
            one.line, one.futures, policy_of(one.rules, one.futures, one.line), by_day=True
        ).batches[:, days]
        for one in offers
    ]
    for first, second in product(*(range(len(one.rules)) for one in offers)):
        picked = (batches[0][first], batches[1][second])
        pans = sum(
            np.ceil(units / line.units_per_pan) for units, line in zip(picked, LINES, strict=True)
        )
        minutes = sum(
            6 * (units > 0) + 2 * np.ceil(units / line.units_per_pan) + 0.4 * units
            for units, line in zip(picked, LINES, strict=True)
        )
        opened = np.array(
            [{*offers[0].rules[first].bake_days, *offers[1].rules[second].bake_days} & {d} != set()
             for d in range(7)]
        )  # fmt: skip
        by_weekday = pans.reshape(WEEKS, 7, -1).swapaxes(0, 1).reshape(7, -1)
        at = int(np.ceil(BUSY * by_weekday.shape[1])) - 1
        yield Pair(
            cost=offers[0].costs[first] + offers[1].costs[second] + 12 * opened.sum(),
            pans=np.sort(by_weekday, axis=1)[:, at],
            hours=(minutes.reshape(WEEKS, 7, -1).mean(axis=(0, 2)) + 30 * opened) / 60,
        )


def best(pairs: list[Pair], pans: object = inf, hours: object = inf) -> Pair:
    kept = [p for p in pairs if (p.pans <= pans).all() and (p.hours <= hours).all()]
    return min(kept, key=lambda pair: pair.cost)


def cost_of(choice: StoreChoice, offers: list[Offers]) -> float:
    days = {
        day for one, k in zip(offers, choice.picks, strict=True) for day in one.rules[k].bake_days
    }
    return sum(one.costs[k] for one, k in zip(offers, choice.picks, strict=True)) + 12 * len(days)


def without_opening(capacity: dict[str, object] | None = None) -> Store:
    return store_with(capacity, LABOUR.model_copy(update={"minutes_per_baking_day": 0}))


def test_without_limits_only_the_opening_is_shared(offers: list[Offers], pairs: list[Pair]) -> None:
    choice = choose_for_store(store_with(None), offers)
    assert cost_of(choice, offers) == pytest.approx(best(pairs).cost)
    assert (choice.limits, choice.cost_of_limits) == ((), 0)


def test_with_nothing_to_share_each_line_keeps_its_own_choice(offers: list[Offers]) -> None:
    choice = choose_for_store(without_opening(), offers)
    assert choice.picks == (0, 0)


@pytest.mark.parametrize("slots", [8, 10, 12, 13, 14, 15, 16])
def test_the_choice_under_a_rack_is_the_best_of_all_pairs(
    slots: int, offers: list[Offers], pairs: list[Pair]
) -> None:
    choice = choose_for_store(store_with({"rack_slots": slots}), offers)
    expected = best(pairs, slots)
    assert (choice.busy.pans <= slots).all()
    assert cost_of(choice, offers) == pytest.approx(expected.cost)
    assert choice.cost_of_limits == pytest.approx(expected.cost - best(pairs).cost)


@pytest.mark.parametrize("hours", [1.2, 1.4, 1.6, 1.8])
def test_the_choice_under_a_shift_is_the_best_of_all_pairs(
    hours: float, offers: list[Offers], pairs: list[Pair]
) -> None:
    choice = choose_for_store(store_with({"staffed_hours": hours}), offers)
    assert (choice.mean.hours <= hours + 1e-5).all()
    assert cost_of(choice, offers) == pytest.approx(best(pairs, hours=hours + 1e-6).cost)


def test_one_more_load_is_worth_what_the_best_pairs_differ_by(
    offers: list[Offers], pairs: list[Pair]
) -> None:
    capacity = {"oven_loads": 5, "pans_per_oven_load": 2}
    choice = choose_for_store(store_with(capacity), offers)
    (oven,) = choice.limits
    now = best(pairs, 10).cost
    for day in range(7):
        more = best(pairs, np.where(np.arange(7) == day, 12, 10)).cost
        assert oven.worth[day] == pytest.approx(now - more, abs=1e-6), day
    assert oven.worth.max() > 1
    assert np.array_equal(oven.slack, 10 - choice.busy.pans)


def test_what_is_used_is_what_is_baked(offers: list[Offers], pairs: list[Pair]) -> None:
    choice = choose_for_store(store_with(None), offers)
    pair = pairs[choice.picks[0] * len(offers[1].rules) + choice.picks[1]]
    assert choice.busy.pans == pytest.approx(pair.pans)
    assert choice.mean.hours == pytest.approx(pair.hours)


@pytest.mark.parametrize("slots", [10, 12, 14, 16])
def test_on_days_unlike_each_other_the_choice_keeps_within_and_comes_close(
    slots: int, noisy: list[Offers]
) -> None:
    """What a busy day takes beyond the means is found by rounds, not by the programme."""
    choice = choose_for_store(store_with({"rack_slots": slots}), noisy)
    assert (choice.busy.pans <= slots).all()
    cost, least = cost_of(choice, noisy), best(list(all_pairs(noisy)), slots).cost
    assert least - 1e-6 <= cost <= 1.03 * least


@pytest.mark.parametrize("slots", [5, 7])
def test_what_cannot_be_kept_cannot_be_kept_by_any_pair(
    slots: int, offers: list[Offers], pairs: list[Pair]
) -> None:
    assert all((pair.pans > slots).any() for pair in pairs)
    with pytest.raises(PlanError):
        choose_for_store(store_with({"rack_slots": slots}), offers)


def test_busy_days_of_lines_do_not_add_up(noisy: list[Offers]) -> None:
    choice = choose_for_store(without_opening(), noisy)
    apart = sum(busy(played_pans(one), one.futures) for one in noisy)
    assert (choice.mean.pans <= choice.busy.pans).all()
    assert (choice.busy.pans <= apart).all()
    assert choice.mean.pans.sum() < choice.busy.pans.sum() < apart.sum()


def played_pans(one: Offers) -> np.ndarray:
    flows = played(
        one.line, one.futures, policy_of(one.rules[:1], one.futures, one.line), by_day=True
    )
    return np.ceil(flows.batches[0, SETTLING:] / one.line.units_per_pan)


def test_a_limit_that_is_slack_changes_nothing(offers: list[Offers]) -> None:
    choice = choose_for_store(without_opening({"rack_slots": 60, "staffed_hours": 12}), offers)
    assert choice.picks == (0, 0)
    assert choice.cost_of_limits == 0
    assert all((use.slack > 0).all() and not use.worth.any() for use in choice.limits)


def test_of_two_limits_on_pans_only_the_smaller_is_worth_more(offers: list[Offers]) -> None:
    tight = {"rack_slots": 11, "proofer_pans": {"saturday": 20}}
    proofer, racks = choose_for_store(store_with(tight), offers).limits
    assert not proofer.worth.any()
    assert racks.worth.any()
    assert np.isinf(np.delete(proofer.slack, SATURDAY)).all()


def test_an_opening_is_saved_where_that_is_dear() -> None:
    """Little is wanted on Mondays: alone each line bakes then, but no line pays the opening."""
    means = np.where(np.arange(7) == 0, 4, WEEK)
    cheap, dear = (
        store_with(None, LABOUR.model_copy(update={"minutes_per_baking_day": minutes}))
        for minutes in (0, 240)
    )
    offers = offered(cheap, means)
    alone, together = (choose_for_store(store, offers) for store in (cheap, dear))
    days = [
        {day for one, k in zip(offers, c.picks, strict=True) for day in one.rules[k].bake_days}
        for c in (alone, together)
    ]
    assert alone.picks == (0, 0)
    assert days[1] < days[0]
    opening = 24 * 240 / 60
    lost = sum(one.costs[k] - one.costs[0] for one, k in zip(offers, together.picks, strict=True))
    assert 0 < lost < opening * (len(days[0]) - len(days[1]))
    closed = sorted(set(EVERY_DAY) - days[1])
    assert not together.mean.hours[closed].any()


def own_alone(one: Offers) -> Offers:
    """Nothing offered but the line's own choice."""
    return replace(
        one,
        rules=one.rules[:1],
        losses=one.losses[:1],
        short_of_floor_pct=one.short_of_floor_pct[:1],
        use=one.use.of(np.arange(1)),
        pans_variance=one.pans_variance[:1],
    )


def test_limits_that_cannot_be_kept_are_named_with_day_and_amounts(
    offers: list[Offers], pairs: list[Pair]
) -> None:
    busiest = int(pairs[0].pans.argmax())
    day, most = WEEKDAYS[busiest], float(pairs[0].pans[busiest])
    tight = {"oven_loads": {day: 2}, "pans_per_oven_load": 3}
    with pytest.raises(PlanError) as error:
        choose_for_store(store_with(tight), [own_alone(one) for one in offers])
    assert str(error.value) == (
        f"With the batches that pay, the plan cannot keep within the oven on {day.capitalize()}, "
        f"where a busy day takes {most:g} pans and 2 loads of 3 pans are 6. Raise oven_loads "
        "under [capacity] in store.toml, or leave a line out."
    )


def test_the_worst_of_many_overruns_are_named_first(offers: list[Offers]) -> None:
    with pytest.raises(PlanError, match=r"within the shift on \w+, where the bake-off takes") as e:
        choose_for_store(store_with({"staffed_hours": 0.6, "rack_slots": 30}), offers)
    assert "hours on average and 0.6 are staffed; nor within" in str(e.value)
    assert "more like these" in str(e.value)
    assert "Raise staffed_hours under" in str(e.value)


def test_no_offer_never_bakes_and_none_falls_short_of_the_floor() -> None:
    line = line_called("Rye loaf", in_stock_floor_pct=80)
    store, futures = store_with(None), futures_of(line, WEEK)
    choice = chosen_rule(line, store, Judging(futures, futures), EVERY_DAY, QUICK)
    found = line_offers(line, store, futures, choice)
    assert all(rule.bake_days for rule in found.rules)
    flows = played(line, futures, policy_of(found.rules, futures, line))
    in_stock = 100 * (1 - flows.short_days.mean(axis=1) / futures.open_days)
    assert (in_stock >= min(in_stock[0], 80) - 1e-9).all()
    assert len(found.rules) > 5
