"""The sample store's evening sheet and a plan whose names are traps."""

from dataclasses import replace

import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.planning.plan import BakePlan
from shrinkwise.tonight.sheet import PanUpSheet, pan_up_sheet

FORMULA = "=1+1"
SCRIPT = "<script>alert('&')</script>"


@pytest.fixture(scope="session")
def sample_sheet(sample_plan: BakePlan, sample_demand: DemandModel) -> PanUpSheet:
    return pan_up_sheet(sample_plan, sample_demand)


@pytest.fixture(scope="session")
def trap_plan(sample_plan: BakePlan) -> BakePlan:
    """The sample plan with lines and a store called what a till would never call them."""
    names = (FORMULA, SCRIPT)
    trapped = tuple(
        replace(plan, line=plan.line.model_copy(update={"name": name}))
        for plan, name in zip(sample_plan.lines, names, strict=False)
    )
    store = sample_plan.store.model_copy(update={"name": f"Store {SCRIPT}"})
    left_out = {f"Thin {SCRIPT}": f"{SCRIPT} too few days"}
    lines = (*trapped, *sample_plan.lines[len(names) :])
    return replace(sample_plan, store=store, lines=lines, left_out=left_out)
