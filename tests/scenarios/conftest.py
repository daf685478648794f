"""A small store to weigh offers on."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from offers import QUICK, START

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.profile.store import Store
from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.scenario import Scenario
from shrinkwise.shelf.model import ShelfModel, fit_shelf


@pytest.fixture(scope="session")
def small_records(small_folder: Path) -> Records:
    """Without limits: each line has its own best plan whatever becomes of the others."""
    read = read_records(small_folder)
    return replace(read, profile=read.profile.model_copy(update={"capacity": None}))


@pytest.fixture(scope="session")
def small_demand(small_records: Records) -> DemandModel:
    return fit_demand(small_records)


@pytest.fixture(scope="session")
def small_shelf(small_records: Records, small_demand: DemandModel) -> ShelfModel:
    return fit_shelf(small_records, small_demand)


@pytest.fixture(scope="session")
def small_footing(
    small_records: Records, small_demand: DemandModel, small_shelf: ShelfModel
) -> Footing:
    return Footing.of(small_records, small_demand, small_shelf, QUICK)


@pytest.fixture(scope="session")
def weighed(small_footing: Footing) -> Callable[..., Comparison]:
    """Weighs scenarios on the small store."""

    def of(*scenarios: Scenario) -> Comparison:
        return weigh(small_footing, scenarios, START, "of the test")

    return of


@pytest.fixture(scope="session")
def small_store(small_records: Records) -> Store:
    return small_records.profile
