"""Bargain shoppers by the depth of the reduction."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from generated import START, line_with_kinds, records_of, store_of

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.records.tables import Records
from shrinkwise.sample.line_truth import LineTruth, OtherKinds, Promotion
from shrinkwise.shelf.depth import DEEPEST, relative_depth
from shrinkwise.shelf.kind_fit import kind_evidence
from shrinkwise.shelf.kind_posterior import SWITCHING, UPLIFT
from shrinkwise.shelf.model import fit_shelf

DEEP = tuple(Promotion(START + timedelta(weeks=4 * k), 14, 1.6) for k in range(13))
UPLIFT_NOW = 0.25


@pytest.fixture(scope="module")
def truth() -> LineTruth:
    """Reduced by a fifth, and by three fifths in every other fortnight."""
    line = line_with_kinds(3)
    settings = line.settings.model_copy(
        update={"shelf_life_days": 3, "reduce_on_day": 3, "reduced_price": 3.2}
    )
    return replace(
        line,
        settings=settings,
        mean_units=30.0,
        habit=replace(line.habit, bake_weekdays=(0, 2, 4, 5), factor=1.5, credit=0.4),
        oldest_first_share=0.25,
        kinds=OtherKinds(bargain_uplift=UPLIFT_NOW),
        other_reductions=DEEP,
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
    deep = np.array([any(day in spell.days for spell in DEEP) for day in ledger.dates])
    assert depth[labelled & deep] == pytest.approx(3, abs=0.05)
    assert depth[labelled & ~deep] == pytest.approx(1, abs=0.02)
    assert (depth[~labelled] == 1).all()


def test_a_reduced_unit_keeps_its_price_while_it_is_there(
    truth: LineTruth, logs: tuple[Records, DemandModel]
) -> None:
    """Were units reduced on their second day of three, those of a day were there on the next."""
    records, demand = logs
    ledger = demand.ledgers[truth.name]
    longer = replace(ledger, line=ledger.line.model_copy(update={"reduce_on_day": 2}))
    depth = relative_depth(records, demand.calendar, longer)
    labelled = ledger.labelled > 0
    next_alone = np.flatnonzero(~labelled[:-2] & labelled[1:-1] & ~labelled[2:]) + 2
    assert depth[next_alone] == pytest.approx(depth[next_alone - 1])
    assert set(np.round(depth[next_alone])) == {1, 3}


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
    """Every other fortnight had three times the bargain shoppers that the present price brings:
    taken for days of that price, they make 0.16 of the uplift, and shoppers who switch."""
    records, demand = logs
    name = truth.name
    alone = fit_shelf(replace(records, markdowns=records.markdowns.clear()), demand).lines[name]
    found = kind_evidence(records, demand.ledgers[name], demand, alone, close=True)
    assert found.draws is not None
    assert found.draws.mean(UPLIFT) == pytest.approx(UPLIFT_NOW, abs=0.06)
    assert found.draws.mean(SWITCHING) < 0.08
