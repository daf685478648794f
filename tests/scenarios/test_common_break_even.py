"""Break-evens of several lines: what may change for all of them alike before it no longer pays."""

from collections.abc import Callable

import numpy as np
import pytest

from shrinkwise.planning.outcome import standard_error
from shrinkwise.profile.store import Store
from shrinkwise.report.study_tables import break_even_table, map_table, swings_table
from shrinkwise.report.study_words import common_text, study_sentences
from shrinkwise.scenarios import common
from shrinkwise.scenarios.break_even import BreakEven
from shrinkwise.scenarios.changes import Change, Source, changed_lines
from shrinkwise.scenarios.common import CommonOffer, CommonStudy
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.scenario import Scenario
from shrinkwise.scenarios.study import study_switches

Weigh = Callable[..., Comparison]

LINES = ("Italian loaf", "Kaiser rolls")
COST, DAYS = 0.04, 1


def offer(
    store: Store,
    cost: float = COST,
    days: int = DAYS,
    price: float = 1.0,
    demand: float = 1.0,
    fussy: float = 0.0,
) -> Scenario:
    changes = [
        Change.model_validate(
            {
                "line": name,
                "extra_days": days,
                "extra_cost": cost,
                "price": store.line(name).price * price,
                "demand_factor": demand,
                "fussy_pct": fussy,
            }
        )
        for name in LINES
    ]
    return Scenario("two lines", *changed_lines(changes, store, Source("test")), one_off_cost=104.0)


@pytest.fixture(scope="module")
def compared(small_store: Store, weighed: Weigh) -> Comparison:
    return weighed(offer(small_store))


@pytest.fixture(scope="module")
def study(compared: Comparison) -> CommonStudy:
    (found,) = study_switches(compared)
    assert isinstance(found, CommonStudy)
    return found


def test_what_is_looked_for(study: CommonStudy) -> None:
    assert study.lines == LINES
    terms = [found.term for found in study.break_evens]
    assert terms == ["extra_cost", "price_factor", "common_demand", "common_fussy", "more_days"]
    for found in study.break_evens[:4]:
        assert found.root is not None
        assert found.low is not None
        assert found.high is not None
        assert found.low < found.root < found.high


@pytest.mark.parametrize("term", ["extra_cost", "price_factor", "common_demand", "common_fussy"])
def test_weighed_anew_at_a_break_even_the_switch_brings_nothing(
    study: CommonStudy, small_store: Store, weighed: Weigh, term: str
) -> None:
    """The whole comparison once more, every line planned anew, which can only be better."""
    root = next(found.root for found in study.break_evens if found.term == term)
    assert root is not None
    at_root = {
        "extra_cost": {"cost": COST + root},
        "price_factor": {"price": root},
        "common_demand": {"demand": root},
        "common_fussy": {"fussy": root},
    }[term]
    brought = Payoff.of(weighed(offer(small_store, **at_root)), 0).week - 2.0
    # plans made for none who refuse leave much that plans made for them do not
    room = 8.0 if term == "common_fussy" else 1.0
    assert -2 * standard_error(brought) <= brought.mean() <= 2 * standard_error(brought) + room


def test_terms_of_the_offer_bring_what_was_compared(compared: Comparison) -> None:
    of = CommonOffer.of(compared, 0)
    assert of is not None
    brings = Payoff.of(compared, 0).week - 2.0
    for brought in (of.at_cost(0.0), of.at_price(1.0), of.at_fussy(0.0), of.at_days(0)):
        assert brought is not None
        np.testing.assert_allclose(brought, brings, atol=1e-9)
    # a cent more costs a cent for every unit baked, under the same plans
    baked = sum(pool.case.outcome.quantities.baked.mean() for pool in of.pools)
    dearer = of.at_cost(0.001).mean() - brings.mean()
    assert dearer == pytest.approx(-0.001 * baked, rel=0.05)


def test_fewer_days_are_looked_at_down_to_the_present_ones(compared: Comparison) -> None:
    of = CommonOffer.of(compared, 0)
    assert of is not None
    assert of.at_days(-1) is not None
    assert of.at_days(-2) is None
    assert of.at_days(1) is None


def test_with_many_lines_other_demands_are_left_out(
    compared: Comparison, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(common, "MOST_LINES", 1)
    (found,) = study_switches(compared)
    assert found is not None
    terms = [one.term for one in found.break_evens]
    assert terms == ["extra_cost", "price_factor", "more_days"]


def test_words_and_tables_of_several_lines(study: CommonStudy) -> None:
    said = study_sentences(study, "USD")
    assert len(said) == 5
    assert all(one.startswith("For all changed lines alike, ") for one in said)
    table = break_even_table([("two", study)])
    assert table["product"].unique().to_list() == [", ".join(LINES)]
    assert table["term"].to_list() == [found.term for found in study.break_evens]
    assert swings_table([("two", study)]).is_empty()
    assert map_table([("two", study)]).is_empty()


def test_lines_that_keep_no_longer_have_no_fussy_shoppers_to_fear(
    small_store: Store, weighed: Weigh
) -> None:
    made = weighed(
        Scenario(
            "dearer",
            *changed_lines(
                [Change.model_validate({"line": name, "extra_cost": 0.01}) for name in LINES],
                small_store,
                Source("test"),
            ),
        )
    )
    of = CommonOffer.of(made, 0)
    assert of is not None
    assert common.common_fussy(of) is None


def test_how_a_common_break_even_is_said() -> None:
    start = "For all changed lines alike, it pays "
    cost = BreakEven("extra_cost", 0.0, 0.008, -0.035, 0.05)
    assert common_text(cost, "USD") == (
        f"{start}up to a dough cost of USD 0.008 a unit more than offered (in nine of ten futures "
        "USD 0.035 a unit less to USD 0.050 a unit more)."
    )
    days = BreakEven("more_days", 0.0, 0.0, -1.0, None)
    assert (
        common_text(days, "USD") == f"{start}from the offered days on (in some futures not at all)."
    )
    fewer = BreakEven("more_days", 0.0, -1.0, -1.0, -1.0)
    assert common_text(fewer, "USD") == (
        f"{start}from 1 day less than offered on (in nine of ten futures 1 day less than offered)."
    )
    fussy = BreakEven("common_fussy", 0.0, 61.2, 40.0, 92.0)
    assert common_text(fussy, "USD") == (
        "For all changed lines alike, under the plans at hand, it pays unless more than 61 of 100 "
        "shoppers refuse them after the days of today on the shelf (in nine of ten futures 40 to "
        "92)."
    )
    none = BreakEven("price_factor", 1.0)
    assert common_text(none, "USD") == f"{start}at no prices up to four times as high."
