"""The sample store's evening sheet and a plan whose names are traps."""

from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule
from shrinkwise.tonight.sheet import PanUpSheet, pan_up_sheet

FORMULA = "=1+1"
SCRIPT = "<script>alert('&')</script>"


@pytest.fixture(scope="session")
def sample_sheet(sample_plan: BakePlan, sample_demand: DemandModel) -> PanUpSheet:
    return pan_up_sheet(sample_plan, sample_demand)


@pytest.fixture(scope="session")
def trap_plan(sample_plan: BakePlan) -> BakePlan:
    """The sample plan with lines and a store called what a till would never call them.

    Its third line rests on Tuesdays.
    """
    names = (FORMULA, SCRIPT)
    trapped = tuple(
        replace(plan, line=plan.line.model_copy(update={"name": name}))
        for plan, name in zip(sample_plan.lines, names, strict=False)
    )
    store = sample_plan.store.model_copy(update={"name": f"Store {SCRIPT}"})
    left_out = {f"Thin {SCRIPT}": f"{SCRIPT} too few days"}
    lines = (*trapped, *sample_plan.lines[len(names) :])
    rested = np.where(np.arange(7) == 1, NO_BAKE, lines[2].rule.targets).astype(np.int16)
    lines = (*lines[:2], replace(lines[2], rule=Rule(rested)), *lines[3:])
    return replace(sample_plan, store=store, lines=lines, left_out=left_out)
