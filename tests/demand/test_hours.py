"""Sold-out days: what is fitted against the truth that made them, with and without the hours."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from made_up import DAYS, FIRST, MORNING, N_LINES, OPEN, Made, made

from shrinkwise.demand.chances import after, at_least, expected_from, log_chances, ran_out
from shrinkwise.demand.hours import WHOLE_DAY, last_sale_shares
from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.demand.wanted import past_demand
from shrinkwise.records.ledger import stock_ledger
from shrinkwise.records.tables import Records


def till_alone(records: Records) -> Records:
    """The records without bakes and disposals."""
    return replace(records, bakes=records.bakes.head(0), disposals=records.disposals.head(0))


def weekday_error(store: Made, demand: DemandModel) -> tuple[float, float]:
    """Mean of fitted over true weekday means less 1, and the root of its mean square [%]."""
    last = [demand.calendar.origin - timedelta(days=back) for back in range(DAYS)]
    weekday = np.array([day.weekday() for day in last])
    fitted = np.stack([demand.expected(f"Line {line}", last) for line in range(N_LINES)])
    means = np.stack([fitted[:, weekday == day].mean(axis=1) for day in range(7)], axis=1)
    error = 100 * (means / store.means - 1)
    return float(error.mean()), float(np.sqrt((error**2).mean()))


@pytest.mark.parametrize("sold_out", [0.05, 0.2, 0.4])
def test_weekday_means_with_sold_out_days(sold_out: float, tmp_path: Path) -> None:
    """Half a standard error of the mean of a line's year is 0.8%, of six lines 0.3%."""
    store = made(tmp_path / "store", sold_out, seed=round(100 * sold_out))
    truth = store.means[:, np.arange(DAYS) % 7]
    naive = 100 * (store.sold.mean() / truth.mean() - 1)
    bias, spread = weekday_error(store, fit_demand(store.records(hours=False)))
    hourly_bias, hourly_spread = weekday_error(store, fit_demand(store.records(hours=True)))
    out = (store.sold < store.wanted).mean()
    print(
        f"\n{100 * out:.0f}% sold out short: sales {naive:+.1f}%, fitted {bias:+.1f}% "
        f"(spread {spread:.1f}), with hours {hourly_bias:+.1f}% ({hourly_spread:.1f})"
    )
    assert abs(bias) < 3
    assert abs(hourly_bias) < 3
    if sold_out >= 0.4:
        assert naive < -10
        assert hourly_spread < spread


@pytest.mark.parametrize("sold_out", [0.05, 0.4])
def test_the_till_alone_tells_of_sold_out_days_by_its_hours(
    sold_out: float, tmp_path: Path
) -> None:
    """Neither bakes nor disposals are logged."""
    store = made(tmp_path / "store", sold_out, seed=10)
    naive = 100 * (store.sold.mean() / store.means[:, np.arange(DAYS) % 7].mean() - 1)
    demand = fit_demand(till_alone(store.records(hours=True)))
    error, _ = weekday_error(store, demand)
    out = store.sold < store.wanted
    courses = [demand.lines[f"Line {line}"].reconstructions for line in range(N_LINES)]
    chance = np.array([np.mean([one.ledger.sold_out for one in of], axis=0) for of in courses])
    print(
        f"\n{100 * out.mean():.0f}% sold out: sales {naive:+.1f}%, fitted to the till's hours "
        f"{error:+.1f}%; drawn as sold out {100 * chance.mean():.0f}%"
    )
    assert abs(error) < 4
    assert chance[out].mean() > 2 * chance[~out].mean()
    # sold out are also days on which just as much was wanted
    assert chance.mean() == pytest.approx(sold_out, abs=0.05)


def test_missed_sales_are_told_by_the_hour(tmp_path: Path) -> None:
    """What was wanted in a quarter in which two days in five sold out: nearer to the truth, and
    surer, where the till tells the hours."""
    store = made(tmp_path / "store", 0.4, seed=10)
    errors, widths = [], []
    for hours in (False, True):
        records = store.records(hours)
        demand = fit_demand(records)
        n_days = 91
        start = FIRST + timedelta(days=DAYS - n_days)
        past = past_demand(records, demand, start, n_days, 400, seed=1)
        inside = []
        for line in range(N_LINES):
            weeks = past.units[f"Line {line}"].reshape(13, 7, -1).sum(axis=1)
            truth = store.wanted[line, -n_days:].reshape(13, 7).sum(axis=1)
            low, high = np.quantile(weeks, (0.05, 0.95), axis=1)
            inside.append((low <= truth) & (truth <= high))
            errors.append(weeks.sum(axis=0).mean() / truth.sum() - 1)
            widths.append((high - low).mean() / truth.mean())
        print(f"\nhours {hours}: weeks inside {np.mean(inside):.2f}")
        assert 0.8 <= np.mean(inside) <= 0.98
    untimed, timed = np.abs(errors[:N_LINES]).mean(), np.abs(errors[N_LINES:]).mean()
    assert timed < 0.6 * untimed
    assert np.mean(widths[N_LINES:]) < 0.7 * np.mean(widths[:N_LINES])


def test_shares_of_the_day_are_those_of_days_with_something_left(tmp_path: Path) -> None:
    store = made(tmp_path / "store", 0.4, seed=9)
    records = store.records(hours=True)
    ledgers = stock_ledger(records)
    shares = last_sale_shares(records, ledgers)
    by_end = np.append(0.0, MORNING.cumsum())
    for name, ledger in ledgers.items():
        sales = records.sales.filter(pl.col("product") == name)
        last = sales.group_by("date", maintain_order=True).agg(pl.col("hour").max())
        at = (last["date"] - ledger.start).dt.total_days().to_numpy()
        hour = last["hour"].to_numpy() - OPEN
        assert shares[name][at, 0] == pytest.approx(by_end[hour], abs=0.04)
        assert shares[name][at, 1] == pytest.approx(by_end[hour + 1], abs=0.04)
    untold = last_sale_shares(store.records(hours=False), ledgers)
    assert all((one == WHOLE_DAY).all() for one in untold.values())


def test_a_day_whose_hours_do_not_add_up_tells_nothing(tmp_path: Path) -> None:
    """Some of its units were sold at an hour that is not told."""
    store = made(tmp_path / "store", 0.2, seed=2)
    records = store.records(hours=True)
    first = pl.col("date") == FIRST + timedelta(days=1)
    noon = pl.col("hour") == OPEN + 3
    hour = pl.when(first & noon).then(None).otherwise("hour").alias("hour")
    holed = replace(records, sales=records.sales.with_columns(hour))
    shares = last_sale_shares(holed, stock_ledger(holed))["Line 0"]
    assert tuple(shares[1]) == WHOLE_DAY
    assert (shares[2] != WHOLE_DAY).any()


def test_what_sold_out_days_have_in_common_is_no_shock(tmp_path: Path) -> None:
    """Lines that know nothing of one another: their days with something left are all poor ones."""
    store = made(tmp_path / "store", 0.4, seed=9)
    for hours in (False, True):
        assert fit_demand(store.records(hours)).shock < 0.004


@pytest.mark.parametrize("floor", [1, 5, 12, 20])
def test_the_mean_of_what_reaches_a_floor(floor: int) -> None:
    wanted = np.random.default_rng(1).negative_binomial(10, 1 / 2.2, 400_000)
    found = expected_from(np.array([float(floor)]), np.log(RATE), float(ALPHA))
    assert found[0] == pytest.approx(wanted[wanted >= floor].mean(), rel=0.005)


RATE = np.array([12.0])
ALPHA = np.log(0.1)


@pytest.mark.parametrize("units", [3, 9, 20])
def test_the_moment_of_the_last_unit_against_simulated_days(units: int) -> None:
    """Chance that the y-th unit is wanted between two shares of the day: Poisson arrivals at a
    gamma distributed rate."""
    rng = np.random.default_rng(units)
    n = 400_000
    rate = rng.gamma(10, RATE[0] / 10, n)
    # the y-th arrival of a Poisson process is gamma distributed
    moment = rng.gamma(units, 1 / rate)
    y = np.array([float(units)])
    for begin, end in ((0.2, 0.28), (0.9, 1.0)):
        found = np.exp(ran_out(y, np.log(RATE), ALPHA, np.array([[begin, end]])))[0]
        seen = ((begin < moment) & (moment <= end)).mean()
        assert found == pytest.approx(seen, rel=0.04, abs=4 * np.sqrt((seen + 1e-5) / n))
    whole = ran_out(y, np.log(RATE), ALPHA, np.array([WHOLE_DAY]))
    assert np.exp(whole[0]) == pytest.approx((moment <= 1).mean(), abs=0.004)
    assert whole == pytest.approx(at_least(y, np.log(RATE), ALPHA))


def test_the_rest_of_a_day_is_what_the_beginning_lets_expect() -> None:
    """Of 12 a day 15 had come by half of it: (10 + 15) / (10 / 12 + 0.5) a day, for the rest."""
    n = 200_000
    each = [np.full(n, value) for value in (15.0, np.log(12.0), ALPHA, 0.5)]
    rest = after(*each, np.random.default_rng(1))
    mean = 0.5 * 25 / (10 / 12 + 0.5)
    assert rest.mean() == pytest.approx(mean, rel=0.01)
    # a gamma mixture: variance = mean + mean^2 / 25
    assert rest.var() == pytest.approx(mean + mean**2 / 25, rel=0.02)


def test_a_last_sale_long_before_closing_is_a_sign_of_an_empty_shelf() -> None:
    """Ten units of an expected fifteen: sold out, if the last went before noon; perhaps not, if it
    went in the last hour."""
    units, log_mean = np.array([10, 10]), np.full((1, 2), np.log(15.0))
    until = np.array([[0.35, 0.4], [0.97, 1.0]])
    exact, floor = log_chances(units, log_mean, np.array([ALPHA]), until)
    odds = np.exp(floor - exact)[0]
    assert odds[0] > 100
    assert odds[1] < 3
