"""Kinds of shoppers that are told from generated logs, against the truth that made them."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from generated import line_with_kinds, records_of, store_of

from shrinkwise.demand.model import DemandModel, fit_demand
from shrinkwise.planning.futures import line_futures
from shrinkwise.records.tables import Records
from shrinkwise.sample.line_truth import LineTruth, OtherKinds
from shrinkwise.shelf.kind_fit import KindEvidence, kind_evidence
from shrinkwise.shelf.kind_pool import line_kinds
from shrinkwise.shelf.kind_posterior import FUSSY, OLDEST, SWITCHING, UPLIFT
from shrinkwise.shelf.kinds import NOT_SEEN
from shrinkwise.shelf.model import ShelfModel, fit_shelf

TRUE = {OLDEST: 0.25, FUSSY: 0.3, SWITCHING: 0.2, UPLIFT: 0.5}


def line_of(kinds: OtherKinds) -> LineTruth:
    """A line of three days, reduced on the third, not baked on three days a week."""
    line = line_with_kinds(3)
    return replace(
        line,
        settings=line.settings.model_copy(
            update={"shelf_life_days": 3, "reduce_on_day": 3, "reduced_price": 2.0}
        ),
        mean_units=30.0,
        habit=replace(line.habit, bake_weekdays=(0, 2, 4, 5), factor=1.3, credit=0.4),
        oldest_first_share=TRUE[OLDEST],
        kinds=kinds,
    )


def logs(kinds: OtherKinds) -> tuple[Records, DemandModel]:
    records = records_of(store_of(line_of(kinds)), 5)
    return records, fit_demand(records)


@pytest.fixture(scope="module")
def all_kinds() -> tuple[Records, DemandModel]:
    return logs(OtherKinds(TRUE[FUSSY], 1, TRUE[SWITCHING], TRUE[UPLIFT]))


@pytest.fixture(scope="module")
def no_kinds() -> tuple[Records, DemandModel]:
    return logs(OtherKinds())


@pytest.fixture(scope="module")
def shelf(all_kinds: tuple[Records, DemandModel]) -> ShelfModel:
    return fit_shelf(*all_kinds)


@pytest.fixture(scope="module")
def clear(all_kinds: tuple[Records, DemandModel]) -> KindEvidence:
    return evidence(*all_kinds)


@pytest.fixture(scope="module")
def unclear(no_kinds: tuple[Records, DemandModel]) -> KindEvidence:
    return evidence(*no_kinds)


def evidence(records: Records, demand: DemandModel) -> KindEvidence:
    (name,) = demand.lines
    alone = fit_shelf(replace(records, markdowns=records.markdowns.clear()), demand).lines[name]
    return kind_evidence(records, demand.ledgers[name], demand, alone, close=True)


@pytest.mark.parametrize("kind", [FUSSY, SWITCHING, UPLIFT])
def test_each_kind_is_told(shelf: ShelfModel, kind: int) -> None:
    (kinds,) = shelf.kinds.values()
    found = (kinds.fussy, kinds.switching, kinds.bargain)[kind - FUSSY]
    assert found.plays
    assert found.low is not None
    assert found.high is not None
    # the middle 90%, and half of it more on either side: one in some hundreds lies beyond
    more = (found.high - found.low) / 2
    assert found.low - more <= TRUE[kind] <= found.high + more


def test_the_limit_day_and_the_oldest_first_share_are_told_beside_them(
    shelf: ShelfModel,
) -> None:
    ((name, kinds),) = shelf.kinds.items()
    assert kinds.until_day == 1
    assert shelf.lines[name].mean == pytest.approx(TRUE[OLDEST], abs=0.05)


def test_futures_hold_the_shoppers_that_are_told(
    shelf: ShelfModel, all_kinds: tuple[Records, DemandModel]
) -> None:
    _, demand = all_kinds
    (name,) = demand.lines
    start = demand.ledgers[name].dates[-1]
    paths = demand.paths(start, 14, 400, seed=1)
    futures = line_futures(paths, shelf, name, 0, 1)
    open_days = futures.days.is_open
    of_kind = futures.streams[:, open_days].sum(axis=(1, 2)) / futures.wanted[open_days].sum()
    assert futures.fussy_until_day == 1
    (kinds,) = shelf.kinds.values()
    told = [shelf.lines[name].mean, kinds.fussy.mean, kinds.bargain.mean, kinds.switching.mean]
    assert of_kind[[0, 2, 3, 4]] == pytest.approx(told, abs=0.05)
    # the demand of old is about what it was, since what bargain shoppers took is not in it
    line = line_of(OtherKinds())
    assert futures.wanted[open_days].mean() == pytest.approx(line.mean_units, rel=0.2)


def test_where_there_are_none_the_logs_show_no_sign_of_them(
    no_kinds: tuple[Records, DemandModel],
) -> None:
    shelf = fit_shelf(*no_kinds)
    ((name, kinds),) = shelf.kinds.items()
    assert [one.reason for one in (kinds.fussy, kinds.switching, kinds.bargain)] == 3 * [NOT_SEEN]
    assert shelf.other_kinds(name, 10, 1) is None


def test_a_close_look_at_shoppers_who_are_not_there_leaves_them_out(
    unclear: KindEvidence,
) -> None:
    kinds = line_kinds(unclear, {})
    assert not any(one.plays for one in (kinds.fussy, kinds.switching, kinds.bargain))
    assert kinds.draws is None
    assert kinds.bargain.reason == "the logs do not tell them from chance"


def test_a_thin_line_is_held_to_its_category(clear: KindEvidence, unclear: KindEvidence) -> None:
    """Two other lines tell bargain shoppers; the line's own logs leave them wide open."""
    assert clear.draws is not None
    assert unclear.draws is not None
    wide = np.random.default_rng(1).uniform(0, 3, len(unclear.draws.values))
    values = unclear.draws.values.copy()
    values[:, UPLIFT] = wide
    thin = replace(unclear, draws=replace(unclear.draws, values=values))
    kinds = line_kinds(thin, {UPLIFT: [clear, clear]})
    assert kinds.bargain.plays
    assert kinds.bargain.pooled
    assert kinds.bargain.mean == pytest.approx(clear.draws.mean(UPLIFT), abs=0.1)
    assert not kinds.fussy.pooled


def without_markdowns(records: Records) -> Records:
    return replace(records, markdowns=records.markdowns.clear())


def without_the_till(records: Records) -> Records:
    return replace(records, sales=records.sales.with_columns(reduced=pl.lit(None, pl.Boolean)))


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        (without_markdowns, "there is no markdown log"),
        (without_the_till, "the sales do not tell which units were reduced"),
    ],
)
def test_what_cannot_be_told_has_a_reason(
    no_kinds: tuple[Records, DemandModel], changed: object, reason: str
) -> None:
    records = changed(no_kinds[0])  # type: ignore[operator]
    (kinds,) = fit_shelf(records, fit_demand(records)).kinds.values()
    assert kinds.bargain.reason == kinds.switching.reason == reason
