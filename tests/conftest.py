"""The sample store, read, fitted and planned once for the whole run; and a small copy of it.

The fixtures are shared and their results frozen: a test that wants another store makes its own.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path

if "PYTEST_XDIST_WORKER" in os.environ:
    # a worker has a processor; libraries that start a thread for each would only wait for another
    os.environ |= {"POLARS_MAX_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

import pytest
from playwright.sync_api import Browser, sync_playwright

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.planning.life_study import LifeStudy, study_shelf_life
from shrinkwise.planning.plan import BakePlan, plan_bakes
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records
from shrinkwise.shelf.model import ShelfModel, fit_shelf

CHECKOUT = Path(__file__).parents[1]
SMALL_LINES = ("Italian loaf", "Kaiser rolls", "Custard eclairs")
"""Lives of 2, 3 and 2 days; one line that is reduced, one that is filled."""

SMALL_SINCE = "2026-01"


@pytest.fixture(scope="session")
def sample_folder() -> Path:
    """The checkout's sample records. Only read from it."""
    return CHECKOUT / "sample_data"


@pytest.fixture(scope="session")
def sample_records(sample_folder: Path) -> Records:
    return read_records(sample_folder)


@pytest.fixture(scope="session")
def sample_demand(sample_records: Records) -> DemandModel:
    return fit_demand(sample_records)


@pytest.fixture(scope="session")
def sample_shelf(sample_records: Records, sample_demand: DemandModel) -> ShelfModel:
    return fit_shelf(sample_records, sample_demand)


@pytest.fixture(scope="session")
def sample_plan(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> BakePlan:
    return plan_bakes(sample_records, sample_demand, sample_shelf, seed=1)


@pytest.fixture(scope="session")
def sample_study(
    sample_records: Records, sample_demand: DemandModel, sample_shelf: ShelfModel
) -> LifeStudy:
    """Searched in brief: every line at every life takes its time."""
    brief = PlanSettings(weeks=6, search_paths=40, judge_paths=80, finalists=3)
    return study_shelf_life(sample_records, sample_demand, sample_shelf, brief)


@pytest.fixture(scope="session")
def small_folder(sample_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three lines and the last nine months of the sample store: a plan of it takes seconds.

    Only read from it; `small_copy` gives a folder that a test may spoil.
    """
    folder = tmp_path_factory.mktemp("small")
    head, *blocks = (sample_folder / "store.toml").read_text(encoding="utf-8").split("[[lines]]")
    kept = [block for block in blocks if any(f'"{name}"' in block for name in SMALL_LINES)]
    (folder / "store.toml").write_text("[[lines]]".join([head, *kept]), encoding="utf-8")
    for path in sample_folder.glob("*.csv"):
        header, *rows = path.read_text(encoding="utf-8").splitlines()
        rows = [row for row in rows if row >= SMALL_SINCE and _is_small(row)]
        if rows:
            (folder / path.name).write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    return folder


def _is_small(row: str) -> bool:
    # an event without a product is the whole store's
    return row.split(",")[1] in (*SMALL_LINES, "")


@pytest.fixture
def small_copy(small_folder: Path, tmp_path: Path) -> Callable[[], Path]:
    """Makes a fresh copy of the small records folder in the test's own place."""

    def copy() -> Path:
        return Path(shutil.copytree(small_folder, tmp_path / "records"))

    return copy


HOPELESS_STORE = """
name = "Hopeless"
currency = "USD"
country = "US"
"""
HOPELESS_LINE = """
[[lines]]
name = "{name}"
category = "rolls"
price = {price}
dough_cost = 1.24
shelf_life_days = {life}
"""
HOPELESS_LINES = (("Never sold", 4.29, 4), ("Below cost", 1.0, 1), ("Always wasted", 3.0, 2))


@pytest.fixture(scope="session")
def hopeless_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """60 days: 16 of the line below cost baked and 5 to 15 sold, 4 of the wasted one a day."""
    folder = tmp_path_factory.mktemp("hopeless")
    blocks = [HOPELESS_LINE.format(name=n, price=p, life=life) for n, p, life in HOPELESS_LINES]
    (folder / "store.toml").write_text(HOPELESS_STORE + "".join(blocks), encoding="utf-8")
    sales, bakes = ["date,product,units,net_sales"], ["date,product,units"]
    disposals = ["date,product,units"]
    for k in range(60):
        day, sold = date(2026, 7, 1) + timedelta(days=k), 5 + (7 * k) % 11
        sales += [f"{day},Never sold,0,0", f"{day},Below cost,{sold},{sold}"]
        sales += [f"{day},Always wasted,0,0"]
        bakes += [f"{day},Below cost,16", f"{day},Always wasted,4"]
        disposals += [f"{day},Below cost,{16 - sold}"]
        disposals += [f"{day},Always wasted,4"] if k else []
    for name, rows in (("sales", sales), ("bakes", bakes), ("disposals", disposals)):
        (folder / f"{name}.csv").write_text("\n".join([*rows, ""]), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """The system's own Chromium, quiet: it is to fetch nothing but the pages under test.

    One for each module and closed with it, since its event loop runs in the main thread. A
    reader's machine may lack it and is told so; on the machine that guards main it must be there.
    """
    executable = os.environ.get("SHRINKWISE_CHROMIUM", "/usr/bin/chromium")
    if not Path(executable).exists() and not os.environ.get("CI"):
        pytest.skip(f"no Chromium at {executable}: install it, or name it in SHRINKWISE_CHROMIUM")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=executable,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
                "--no-first-run",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
            ],
        )
        yield browser
        browser.close()
