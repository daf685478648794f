"""Bargain shoppers by the depth of the reduction."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from generated import line_with_kinds, records_of, store_of

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.records.tables import Records
from shrinkwise.sample.line_truth import LineTruth, OtherKinds, Promotion
from shrinkwise.shelf.depth import DEEPEST, relative_depth
from shrinkwise.shelf.kind_fit import kind_evidence
from shrinkwise.shelf.kind_posterior import UPLIFT
from shrinkwise.shelf.model import fit_shelf

DEEP_UNTIL = date(2026, 8, 2)
UPLIFT_NOW = 0.25


@pytest.fixture(scope="module")
def truth() -> LineTruth:
    """Reduced by a fifth since the summer, by three fifths before."""
    line = line_with_kinds(3)
    settings = line.settings.model_copy(
        update={"shelf_life_days": 3, "reduce_on_day": 3, "reduced_price": 3.2}
    )
    deep = Promotion(date(2025, 10, 6), (DEEP_UNTIL - date(2025, 10, 6)).days + 1, 1.6)
    return replace(
        line,
        settings=settings,
        mean_units=30.0,
        habit=replace(line.habit, bake_weekdays=(0, 2, 4, 5), factor=1.5, credit=0.4),
        oldest_first_share=0.25,
        kinds=OtherKinds(bargain_uplift=UPLIFT_NOW),
        other_reductions=(deep,),
    )


@pytest.fixture(scope="module")
def logs(truth: LineTruth) -> tuple[Records, DemandModel]:
    records = records_of(store_of(truth), 5)
    return records, fit_demand(records)


def test_each_day_has_the_depth_of_its_price(
    truth: LineTruth, logs: tuple[Records, DemandModel]
) -> None:
    records, demand = logs
    ledger = demand.ledgers[truth.name]
    depth = relative_depth(records, demand.calendar, ledger)
    labelled = ledger.labelled > 0
    deep = np.array([day <= DEEP_UNTIL for day in ledger.dates])
    assert depth[labelled & deep] == pytest.approx(3, abs=0.05)
    assert depth[labelled & ~deep] == pytest.approx(1, abs=0.02)
    assert (depth[~labelled] == 1).all()


def test_a_slip_of_the_pen_is_held_back(
    truth: LineTruth, logs: tuple[Records, DemandModel]
) -> None:
    records, demand = logs
    ledger = demand.ledgers[truth.name]
    nearly_full = truth.settings.model_copy(update={"reduced_price": 3.9})
    shallow = replace(ledger, line=nearly_full)
    assert relative_depth(records, demand.calendar, shallow).max() == DEEPEST
    never = replace(ledger, line=nearly_full.model_copy(update={"reduce_on_day": None}))
    assert (relative_depth(records, demand.calendar, never) == 1).all()


def test_the_uplift_of_the_present_reduction_is_told_from_days_of_another(
    truth: LineTruth, logs: tuple[Records, DemandModel]
) -> None:
    """Most days had three times the bargain shoppers that the present price brings."""
    records, demand = logs
    name = truth.name
    alone = fit_shelf(replace(records, markdowns=records.markdowns.clear()), demand).lines[name]
    found = kind_evidence(records, demand.ledgers[name], demand, alone, close=True)
    assert found.draws is not None
    low, high = found.draws.quantile(UPLIFT, 0.05), found.draws.quantile(UPLIFT, 0.95)
    # and half of the middle nine tenths more on either side, as in test_kinds
    more = (high - low) / 2
    assert low - more <= UPLIFT_NOW <= high + more
    assert found.draws.mean(UPLIFT) < 2 * UPLIFT_NOW
