"""Effects, elasticity and lift with their intervals, on days whose truth is stated."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from made_up_store import (
    CATEGORIES,
    ELASTICITY,
    EVE,
    EVENT,
    HOLIDAY,
    LIFT,
    MEANS,
    SCHOOL,
    SCHOOL_DAYS,
    fitted_store,
)

from shrinkwise.demand.day_effects import (
    OTHER_LINES,
    OWN_DAYS,
    DayEffects,
    change_pct,
    day_effects,
    day_name,
    usual_ratio,
)
from shrinkwise.demand.effects import PRICE_ELASTICITY
from shrinkwise.demand.elasticity import (
    ASSUMPTION,
    OTHERS,
    OWN_LOGS,
    PriceAnswers,
    price_answers,
)
from shrinkwise.demand.model import DemandModel
from shrinkwise.demand.together import LinesTogether, Sums
from shrinkwise.records.tables import Records

FITS = 20


@pytest.fixture(scope="module")
def stores() -> list[LinesTogether]:
    return [fitted_store(seed) for seed in range(FITS)]


@pytest.fixture(scope="module")
def of_sample(sample_records: Records, sample_demand: DemandModel) -> LinesTogether:
    return LinesTogether.of(sample_records, sample_demand)


@pytest.fixture(scope="module")
def sample_days(of_sample: LinesTogether) -> DayEffects:
    return day_effects(of_sample)


@pytest.fixture(scope="module")
def sample_prices(of_sample: LinesTogether) -> PriceAnswers:
    return price_answers(of_sample)


def test_intervals_of_special_days_hold_the_truth(stores: list[LinesTogether]) -> None:
    """Nine of ten at least, of the store and of lines: old days count less than they tell, so that
    the intervals are wide rather than narrow."""
    truth = {"holiday": HOLIDAY, "holiday eve": EVE, "local event": EVENT, "school holiday": SCHOOL}
    truth["promotion"] = LIFT
    held: dict[str, list[bool]] = {"store": [], "lines": []}
    for store in stores:
        found = day_effects(store)
        tables = {"store": found.of_store(), "lines": found.of_lines()}
        for which, table in tables.items():
            for name, effect in truth.items():
                rows = table.filter(pl.col("effect") == name)
                true_pct = 100 * np.expm1(effect)
                inside = rows.select(pl.lit(true_pct).is_between("low_pct", "high_pct"))
                held[which] += inside.to_series().to_list()
    shares = {which: float(np.mean(inside)) for which, inside in held.items()}
    print(f"\n{len(held['store'])} of the store, {len(held['lines'])} of lines: {shares}")
    assert len(held["store"]) == FITS * len(truth)
    assert 0.8 <= shares["store"] <= 1
    assert 0.85 <= shares["lines"] <= 1


def test_elasticity_and_lift_are_found_within_their_intervals(
    stores: list[LinesTogether],
) -> None:
    inside: dict[str, list[bool]] = {"elasticity": [], "lift": []}
    middle = []
    for store in stores:
        table = price_answers(store).table()
        assert table["promotion_off_pct"][0] == pytest.approx(20)
        truth = pl.lit(ELASTICITY), pl.lit(100 * np.expm1(LIFT))
        ends = table.select(
            elasticity=truth[0].is_between("elasticity_low", "elasticity_high"),
            lift=truth[1].is_between("lift_low_pct", "lift_high_pct"),
        )
        for name, held in inside.items():
            held += ends[name].to_list()
        middle.append(table.filter(pl.col("of") == "all")["elasticity"].item())
    shares = {name: float(np.mean(held)) for name, held in inside.items()}
    print(f"\nmean {np.mean(middle):.2f}; inside: {shares}")
    assert min(shares.values()) >= 0.8
    # the price changes pull it from the assumption, -1, more than half of the way to the truth
    assert ELASTICITY < np.mean(middle) < (PRICE_ELASTICITY + ELASTICITY) / 2


def test_it_is_counted_what_an_elasticity_rests_on(stores: list[LinesTogether]) -> None:
    table = price_answers(stores[0]).table()
    rows = {row["name"]: row for row in table.iter_rows(named=True)}
    assert list(rows) == [*MEANS, "breads", "rolls", "All lines"]
    assert [rows[name]["price_changes"] for name in rows] == [1, 2, 0, 3, 0, 3]
    assert [rows[name]["promotion_days"] for name in rows] == [18, 12, 0, 30, 0, 30]
    assert rows["Rye loaf"]["rests_on"] == rows["breads"]["rests_on"] == OWN_LOGS
    assert rows["Buns"]["rests_on"] == rows["rolls"]["lift_rests_on"] == OTHERS
    assert rows["White loaf"]["from_logs_pct"] > rows["Buns"]["from_logs_pct"] > 5


def test_without_another_price_it_is_the_assumption_with_its_spread() -> None:
    """-1, with the spreads of stores, category, store and line: sqrt(0.4^2+0.2^2+0.2^2+0.3^2)."""
    answers = price_answers(fitted_store(1, prices=False))
    table = answers.table()
    assert set(table["rests_on"]) == set(table["lift_rests_on"]) == {ASSUMPTION}
    line = table.row(0, named=True)
    assert line["elasticity"] == pytest.approx(-1.0)
    spread = 1.645 * np.sqrt(0.4**2 + 0.2**2 + 0.2**2 + 0.3**2)
    assert line["elasticity_high"] - line["elasticity"] == pytest.approx(spread, rel=1e-3)
    assert line["from_logs_pct"] == pytest.approx(0, abs=1e-3)
    assert answers.of("Buns").rests_on == ASSUMPTION
    assert answers.of("Buns").sd == pytest.approx(spread / 1.645, rel=1e-3)
    names = day_effects(answers.together).names
    assert "promotion" not in names
    assert "holiday" in names


def test_a_total_of_lines_is_as_wrong_as_they_are_together() -> None:
    """Two lines of the same demand and effect: sd of the mean, sqrt(sum of the covariance) / 2."""
    covariance = np.array([[[0.04, 0.03], [0.03, 0.04]]])
    sums = Sums(np.log([[1.2, 1.2]]), covariance)
    log_factor, sd = sums.of_lines(0, np.array([10.0, 10.0]))
    assert log_factor == pytest.approx(np.log(1.2))
    assert sd == pytest.approx(np.sqrt(0.14) / 2)
    # with 10 and 30 units, the total is 12 and 60 where it was 10 and 30
    sums = Sums(np.log([[1.2, 2.0]]), covariance)
    log_factor, sd = sums.of_lines(0, np.array([10.0, 30.0]))
    assert log_factor == pytest.approx(np.log(72 / 40))
    slope = np.array([12, 60]) / 72
    assert sd == pytest.approx(np.sqrt(slope @ covariance[0] @ slope))
    assert sums.of_lines(0, np.array([0.0, 5.0])) == pytest.approx((np.log(2), 0.2))


def test_percent_and_interval_of_a_log_factor() -> None:
    assert change_pct(0.0, 0.0) == (0, 0, 0)
    assert change_pct(np.log(1.5), 0.1) == pytest.approx(
        (50, 150 * np.exp(-0.16449) - 100, 150 * np.exp(0.16449) - 100), abs=1e-2
    )


def test_lines_of_the_sample_are_as_unsure_as_they_were_fitted(
    of_sample: LinesTogether, sample_demand: DemandModel
) -> None:
    """The joint law of all lines agrees with the fit of each, effect by effect."""
    n_lines, n = of_sample.params.shape
    joint = of_sample.sums(np.repeat(np.eye(n)[:, None], n_lines, axis=1)).covariance
    for line, name in enumerate(of_sample.names):
        own = np.diag(sample_demand.lines[name].covariance)[:-1]
        assert joint[:, line, line] == pytest.approx(own, rel=0.05)


def test_special_days_of_the_sample(sample_days: DayEffects, sample_records: Records) -> None:
    store = {row["effect"]: row for row in sample_days.of_store().iter_rows(named=True)}
    assert store["local event"]["days"] == 2
    past = sample_records.events.filter(
        pl.col("kind") == "promotion", pl.col("date") <= sample_records.last_date
    )
    assert store["promotion"]["days"] == past["date"].n_unique()
    # the store is shut on both: no day of them was ever seen
    assert "Thanksgiving" not in store
    assert "Christmas Day" not in store
    assert store["24 December"]["days"] == 2
    lines = sample_days.of_lines()
    loaf = lines.filter(pl.col("product") == "Italian loaf", pl.col("effect") == "promotion")
    assert loaf.select("days", "rests_on").row(0) == (0, OTHER_LINES)
    bagels = lines.filter(pl.col("product") == "Bagels", pl.col("effect") == "promotion")
    assert bagels.select("days", "rests_on").row(0) == (8, OWN_DAYS)
    # and less is known of a line that has seen none
    width = [one["high_pct"].item() - one["low_pct"].item() for one in (loaf, bagels)]
    assert width[0] > width[1]


def test_the_sample_store_is_less_sure_than_independent_lines_would_be(
    sample_days: DayEffects,
) -> None:
    at = sample_days.names.index("holiday")
    weights = sample_days.together.demand
    _, sd = sample_days.sums.of_lines(at, weights)
    apart = np.diag(np.diag(sample_days.sums.covariance[at]))
    _, independent = replace(sample_days.sums, covariance=apart[None]).of_lines(0, weights)
    assert sd > 1.25 * independent


def test_a_price_before_a_promotion_is_the_usual_one() -> None:
    ratio = np.array([-0.2, 0.1, 0.1, -0.1, -0.1, 0.0])
    promoted = np.array([True, False, False, True, True, False])
    assert usual_ratio(ratio, promoted).tolist() == [0.1, 0.1, 0.1, 0.1, 0.1, 0.0]
    assert usual_ratio(ratio, np.ones(6, np.bool_)).tolist() == [0] * 6


def test_days_are_called_as_people_call_them() -> None:
    assert day_name("12-24") == "24 December"
    assert day_name("1-2") == "2 January"
    assert day_name("Easter Sunday") == "Easter Sunday"


def test_a_weekly_closing_is_no_special_day() -> None:
    """Shut on Sundays and Mondays: every Saturday lies before two closed days, and is ordinary."""
    store = fitted_store(2)
    calendar = store.model.calendar
    days = ("tuesday", "wednesday", "thursday", "friday", "saturday")
    shut = replace(calendar, store=calendar.store.model_copy(update={"open_days": days}))
    at = store.column("before two closed")
    lines = []
    for days_of in store.days:
        effects = days_of.effects.copy()
        effects[:, at] = effects[:, 5]
        lines.append(replace(days_of, effects=effects))
    params = store.params.copy()
    params[:, at] = 3.0
    weekly = replace(
        store, days=tuple(lines), params=params, model=replace(store.model, calendar=shut)
    )
    changed, usual = (
        dict(day_effects(one).of_store().select("effect", "change_pct").iter_rows())
        for one in (weekly, store)
    )
    assert changed == pytest.approx(usual)


def test_school_holidays_are_counted(stores: list[LinesTogether]) -> None:
    rows = day_effects(stores[0]).of_store().filter(pl.col("effect") == "school holiday")
    assert rows["days"].item() == len(SCHOOL_DAYS)
    assert len(CATEGORIES) == len(MEANS)
    assert min(SCHOOL_DAYS) == date(2025, 1, 6) + timedelta(days=170)
