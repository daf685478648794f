"""What it is worth to know more before a switch."""

from collections.abc import Callable
from dataclasses import replace

import polars as pl
import pytest
from offers import switched

from shrinkwise.errors import ScenarioError
from shrinkwise.profile.store import Store
from shrinkwise.report import information as report_information
from shrinkwise.report.information import information_table, information_text
from shrinkwise.report.verdict import how_sure
from shrinkwise.scenarios.compare import Comparison
from shrinkwise.scenarios.information import LOG_WEEKS, TRIAL_WEEKS, Information, information
from shrinkwise.scenarios.payoff import Payoff
from shrinkwise.scenarios.scenario import Scenario, parsed_scenario

Weigh = Callable[..., Comparison]

LOAF = "Italian loaf"


@pytest.fixture(scope="module")
def weighed_offers(small_store: Store, weighed: Weigh) -> Comparison:
    """One whose demand is in doubt, the same without a doubt, a hopeless one, and none."""
    doubted = switched(
        small_store, LOAF, extra_days=2, extra_cost=0.15, demand_factor=0.97, demand_factor_sd=0.2
    )
    sure = switched(small_store, LOAF, extra_days=2, extra_cost=0.15)
    hopeless = switched(small_store, LOAF, extra_cost=1.5)
    return weighed(doubted, sure, hopeless, Scenario("nothing", {}))


def test_a_doubted_demand_is_worth_a_trial(weighed_offers: Comparison) -> None:
    found = information(weighed_offers, 0)
    assert found.perfect >= found.trial > 0
    # more weeks of today's line tell nothing of what shoppers will think of the other one
    assert found.trial > found.more_weeks
    sure = information(weighed_offers, 1)
    assert found.perfect > sure.perfect


def test_what_is_lost_meanwhile(weighed_offers: Comparison) -> None:
    for index in range(3):
        week = float(Payoff.of(weighed_offers, index).week.mean())
        found = information(weighed_offers, index)
        assert found.trial_loss == pytest.approx(TRIAL_WEEKS * max(-week, 0))
        assert found.wait_loss == pytest.approx(LOG_WEEKS * max(week, 0))
        assert found.trial_worth == found.trial - found.trial_loss


def test_no_result_would_change_a_clear_answer(weighed_offers: Comparison) -> None:
    for index in (2, 3):
        found = information(weighed_offers, index)
        assert (found.perfect, found.trial, found.more_weeks) == (0, 0, 0)
        said = information_text(weighed_offers, index)
        assert said == "To know more of demand and shoppers first would not change the answer."


def test_luck_that_is_left_is_told_from_doubt(
    weighed_offers: Comparison, monkeypatch: pytest.MonkeyPatch
) -> None:
    nothing = Information(0.0, 0.0, 0.0, 0.0, 0.0, None)
    monkeypatch.setattr(report_information, "information", lambda *_: nothing)
    doubted, sure, hopeless = (information_text(weighed_offers, index) for index in range(3))
    better = (Payoff.of(weighed_offers, 1).week > 0).mean()
    assert 0.02 < better < 0.98
    assert "the luck of the weeks" in sure
    assert "demand_factor_sd" in sure
    assert (
        doubted
        == hopeless
        == ("To know more of demand and shoppers first would not change the answer.")
    )


def test_the_cost_of_a_trial_is_held_against_its_worth(weighed_offers: Comparison) -> None:
    def at_cost(cost: float | None) -> Comparison:
        first, *others = weighed_offers.asked
        return replace(weighed_offers, asked=(replace(first, trial_cost=cost), *others))

    worth = information(weighed_offers, 0).trial_worth
    assert worth > 10
    assert information_text(at_cost(None), 0).startswith("A trial of 4 weeks is worth up to USD ")
    assert "do it if it costs less" in information_text(at_cost(None), 0)
    assert ": do it." in information_text(at_cost(worth - 5), 0)
    assert ": leave it." in information_text(at_cost(worth + 5), 0)
    assert information_text(at_cost(worth + 5), 0) in how_sure(at_cost(worth + 5), 0)


def test_the_table_has_what_the_sentence_says(weighed_offers: Comparison) -> None:
    table = information_table(weighed_offers)
    assert table.height == 3 * 4
    trial = table.filter(pl.col("to_know") == "a trial").row(0, named=True)
    found = information(weighed_offers, 0)
    assert trial["value_first_year"] == found.trial
    assert trial["worth_at_most"] == pytest.approx(found.trial - found.trial_loss)
    assert trial["stated_cost"] is None


def test_a_scenario_file_states_the_cost_of_a_trial(small_store: Store) -> None:
    text = f'name = "A"\ntrial_cost = 75\n[[changes]]\nline = "{LOAF}"\nextra_days = 1\n'
    assert parsed_scenario(text, "a.toml", small_store).trial_cost == 75
    with pytest.raises(ScenarioError, match=r"a\.toml.*Line 2, trial_cost: .*-75"):
        parsed_scenario(text.replace("75", "-75"), "a.toml", small_store)
