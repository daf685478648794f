"""Lines with odd or short histories: a sensible demand, or a clear reason why there is none."""

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from made_up import LINE, STORE

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.records.reading import read_records
from shrinkwise.records.single_orders import single_orders

LAST = date(2026, 3, 29)
DAYS = 182
AHEAD, N_PATHS = 28, 1000
NORMAL = 20.0
DECEMBER = date(2025, 12, 8)
DRAW = np.random.default_rng(8)


def steadily(mean: float) -> Callable[[date], int]:
    return lambda day: int(DRAW.poisson(mean * (1.5 if day.weekday() > 4 else 0.8)))


WANTED: dict[str, tuple[date, Callable[[date], int]]] = {
    "Plain rolls": (date.min, steadily(NORMAL)),
    "Plain loaf": (date.min, steadily(NORMAL)),
    "Six days": (LAST - timedelta(days=5), steadily(NORMAL)),
    "Ten days": (LAST - timedelta(days=9), steadily(NORMAL)),
    "Sixty days": (LAST - timedelta(days=59), steadily(NORMAL)),
    "Since December": (DECEMBER, steadily(NORMAL)),
    "Twice a week": (date.min, lambda day: steadily(NORMAL)(day) if day.weekday() > 4 else 0),
    "Never sold": (date.min, lambda _: 0),
    "Always ten": (date.min, lambda _: 10),
    "One order": (date.min, lambda day: 600 if day == date(2026, 2, 11) else steadily(NORMAL)(day)),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All of them in one store, each day with a little left of what was baked."""
    folder = tmp_path_factory.mktemp("odd")
    toml = STORE + "".join(LINE.format("").replace('"Line "', f'"{name}"') for name in WANTED)
    (folder / "store.toml").write_text(toml, encoding="utf-8")
    sales, bakes = ["date,product,units,net_sales"], ["date,product,units"]
    disposals = ["date,product,units,reason"]
    for back in range(DAYS - 1, -1, -1):
        day = LAST - timedelta(days=back)
        for name, (since, wanted) in WANTED.items():
            if day < since or (name == "Twice a week" and day.weekday() < 5):
                continue
            units = wanted(day)
            sales.append(f"{day},{name},{units},{3 * units}")
            bakes.append(f"{day},{name},{units + 3}")
            disposals.append(f"{day},{name},3,out of date")
    for log, rows in (("sales", sales), ("bakes", bakes), ("disposals", disposals)):
        (folder / f"{log}.csv").write_text("\n".join([*rows, ""]), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def demand(folder: Path) -> DemandModel:
    return fit_demand(read_records(folder))


@pytest.fixture(scope="module")
def ahead(demand: DemandModel) -> dict[str, np.ndarray]:
    """Units wanted in the four weeks to come, by line."""
    return demand.paths(LAST + timedelta(days=1), AHEAD, N_PATHS, seed=1).units


def test_too_few_days_are_named_with_their_number(demand: DemandModel) -> None:
    assert list(demand.too_thin) == ["Six days"]
    assert demand.too_thin["Six days"].startswith("6 days on sale in the records")


@pytest.mark.parametrize("name", ["Ten days", "Sixty days", "Since December", "Plain loaf"])
def test_a_short_history_is_read_as_what_it_is(name: str, ahead: dict[str, np.ndarray]) -> None:
    """A fortnight in December makes no season of its own, and half a year no year."""
    four_weeks = ahead[name].mean(axis=0)
    low, high = np.quantile(four_weeks, (0.05, 0.95))
    assert low < NORMAL < high
    assert four_weeks.mean() == pytest.approx(NORMAL, rel=0.3)
    means = ahead[name].mean(axis=1).reshape(4, 7)
    assert means[:, 5:].mean() > 1.4 * means[:, :5].mean()


def test_the_shorter_the_history_the_wider_the_doubt(ahead: dict[str, np.ndarray]) -> None:
    names = ("Ten days", "Sixty days", "Plain loaf")
    low, high = np.quantile([ahead[name].sum(axis=0) for name in names], (0.05, 0.95), axis=1)
    widths = high - low
    assert widths[0] > 1.15 * widths[1] > 1.15 * widths[2]


def test_a_line_of_two_days_is_known_on_these(ahead: dict[str, np.ndarray]) -> None:
    weekend = ahead["Twice a week"].reshape(4, 7, N_PATHS)[:, 5:]
    assert weekend.mean() == pytest.approx(1.5 * NORMAL, rel=0.3)
    others = ahead["Twice a week"].reshape(4, 7, N_PATHS)[:, :5]
    # nobody could buy it there: what others sell on these days is all that is known
    spread = [
        part.sum(axis=(0, 1)).std() / part.sum(axis=(0, 1)).mean() for part in (others, weekend)
    ]
    assert spread[0] > 1.5 * spread[1]


def test_what_nobody_bought_is_hardly_wanted(ahead: dict[str, np.ndarray]) -> None:
    assert ahead["Never sold"].mean() < 0.2


def test_the_same_every_day_stays_so(ahead: dict[str, np.ndarray]) -> None:
    units = ahead["Always ten"]
    assert units.mean() == pytest.approx(10, rel=0.05)
    low, high = np.quantile(units, (0.1, 0.9))
    assert 6 <= low <= high <= 14


def test_one_order_is_no_demand(ahead: dict[str, np.ndarray]) -> None:
    """It is left out, and moves no weekday, nor what others are expected to sell."""
    units = ahead["One order"].reshape(4, 7, N_PATHS)
    assert units[:, :5].mean() == pytest.approx(0.8 * NORMAL, rel=0.3)
    assert units[:, 2].mean() == pytest.approx(units[:, 1].mean(), rel=0.15)


def test_one_order_is_said(demand: DemandModel, folder: Path) -> None:
    found = read_records(folder).problems.filter(pl.col("value") == "600, One order")
    assert found.height == 1
    assert "single order" in found["rule"][0]
    ledger = demand.ledgers["One order"]
    assert single_orders(ledger.sold).sum() == 1
    assert not single_orders(ledger.sold[:12]).any()
