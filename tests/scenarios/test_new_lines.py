"""A line without a history: whose demand it has, and what it brings by sums that need no plan."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from offers import START, switched

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.errors import ScenarioError
from shrinkwise.profile.line import Line
from shrinkwise.report.comparison_tables import comparison_table
from shrinkwise.report.decision import decision
from shrinkwise.scenarios.compare import Comparison, weigh
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.new_line import Newcomer
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.scenario import Scenario

LOAF, ROLLS, ECLAIRS = "Italian loaf", "Kaiser rolls", "Custard eclairs"
Weigh = Callable[..., Comparison]


def like(line: Line, name: str = "Twin", **other: object) -> Line:
    return line.model_copy(update={"name": name} | other)


def added(newcomer: Newcomer, **also: object) -> Scenario:
    new = {newcomer.line.name: newcomer}
    return replace(Scenario("A new line", {}, newcomers=new), **also)  # type: ignore[arg-type]


def test_a_twin_in_place_of_its_lender_is_no_change(small_footing: Footing, weighed: Weigh) -> None:
    """The same shoppers to a unit, and the same days by habit; the plan is of the same line."""
    loaf = small_footing.store.line(LOAF)
    twin = Newcomer(like(loaf), (LOAF,), DemandFactor(), replaces=LOAF)
    under = small_footing.with_newcomers({"Twin": twin})
    drawn, now = under.judging("Twin", DemandFactor()).judge, small_footing.futures[LOAF].judge
    np.testing.assert_array_equal(drawn.streams.sum(axis=0), now.streams.sum(axis=0))
    np.testing.assert_allclose(drawn.means, now.means)
    made = weighed(added(twin))
    assert LOAF not in made.scenarios[0].lines
    brought = Payoff.of(made, 0).week
    # which of the same shoppers take the oldest units is drawn anew
    result = made.now.best.money.result.mean()
    assert abs(brought.mean()) < 0.004 * result
    assert comparison_table(made).filter(measure="days_left")["difference"].abs().max() < 0.05


def test_a_new_line_only_adds_and_an_ending_one_only_takes(
    small_footing: Footing, weighed: Weigh
) -> None:
    rolls = small_footing.store.line(ROLLS)
    new = Newcomer(like(rolls, price=5.0), (ROLLS,), DemandFactor(0.5, 0.1))
    beside, instead = weighed(
        added(new), added(replace(new, replaces=LOAF), one_off_cost=26.0)
    ).scenarios
    assert list(beside.lines) == [*small_footing.futures, "Twin"]
    assert list(instead.lines) == [ROLLS, ECLAIRS, "Twin"]
    ended = beside.best.waste_units - instead.best.waste_units
    np.testing.assert_allclose(ended, beside.lines[LOAF].outcome.quantities.disposed)
    # no other line is planned anew: what a scenario does not touch is as it was
    assert beside.lines[ROLLS] is instead.lines[ROLLS]


def test_of_a_category_the_new_line_has_the_mean_demand(small_footing: Footing) -> None:
    loaf = small_footing.store.line(LOAF)
    new = Newcomer(like(loaf), (LOAF, ROLLS), DemandFactor(0.8))
    under = small_footing.with_newcomers({"Twin": new})
    drawn = under.judging("Twin", new.factor).judge
    lent = [small_footing.futures[name].judge for name in new.lenders]
    np.testing.assert_allclose(drawn.means, 0.4 * (lent[0].means + lent[1].means))
    units = [one.streams.sum(axis=(0, 1)) for one in (drawn, *lent)]
    assert units[0].mean() == pytest.approx(0.4 * (units[1] + units[2]).mean(), rel=0.01)
    # good days of the lenders are good days of the line
    assert np.corrcoef(units[0], units[1] + units[2])[0, 1] > 0.9
    # and it is baked like the one that is wanted most
    most = max(new.lenders, key=lambda name: small_footing.futures[name].judge.means.sum())
    assert under.habits["Twin"] is small_footing.habits[most]


def test_the_doubt_of_the_factor_is_in_the_interval(small_footing: Footing, weighed: Weigh) -> None:
    rolls = like(small_footing.store.line(ROLLS))
    sure, unsure = (
        Payoff.of(weighed(added(Newcomer(rolls, (ROLLS,), DemandFactor(0.6, sd)))), 0).week
        for sd in (0.0, 0.2)
    )
    assert unsure.std() > 1.3 * sure.std()


def test_shoppers_are_taken_from_a_line_only_where_a_change_says_so(
    small_footing: Footing, weighed: Weigh
) -> None:
    new = Newcomer(like(small_footing.store.line(ROLLS)), (ROLLS,), DemandFactor(0.5))
    taking = switched(small_footing.store, ROLLS, demand_factor=0.9)
    alone, taken = weighed(
        added(new), added(new, lines=taking.lines, factors=taking.factors)
    ).scenarios
    assert alone.lines[ROLLS] is not taken.lines[ROLLS]
    sold = [one.lines[ROLLS].outcome.quantities.sold_full.mean() for one in (alone, taken)]
    assert sold[1] == pytest.approx(0.9 * sold[0], rel=0.03)
    assert alone.best.money.result.mean() > taken.best.money.result.mean()


def test_a_lender_without_a_demand_is_refused(small_footing: Footing) -> None:
    new = Newcomer(like(small_footing.store.line(ROLLS)), ("Rye loaf",), DemandFactor(0.5))
    with pytest.raises(ScenarioError, match="Rye loaf"):
        weigh(small_footing, [added(new)], START, "")


def test_the_page_says_what_is_new_and_what_ends(small_footing: Footing, weighed: Weigh) -> None:
    eclairs = small_footing.store.line(ECLAIRS)
    new = Newcomer(like(eclairs), (ECLAIRS,), DemandFactor(0.4, 0.1), replaces=LOAF)
    said = decision(weighed(added(new)), 0, None)
    assert "Twin, which is new, in place of Italian loaf" in said.question
    assert "demand 40% of Custard eclairs, give or take 10" in said.question
    assert "Filled: Twin" in said.cautions[1]
    assert any("with its own demand" in sentence for sentence in said.how_sure)
