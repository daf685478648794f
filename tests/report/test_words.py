"""Figures in words: short, with their unit, and never a sentence without a figure."""

import re
from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.engine.policy import NO_BAKE
from shrinkwise.planning.plan import BakePlan
from shrinkwise.planning.rule import Rule
from shrinkwise.report.labels import label
from shrinkwise.report.words import (
    change,
    count_text,
    days_text,
    doubts,
    interval_text,
    money_text,
    save_sentence,
    save_title,
    why,
)


@pytest.mark.parametrize(
    ("amount", "text"),
    [
        (1204.4, "USD 1,204"),
        (-1204.6, "USD -1,205"),
        (10.0, "USD 10"),
        (9.994, "USD 9.99"),
        (3.5, "USD 3.50"),
        (0.0, "USD 0.00"),
        # a rounding rest is no debt
        (-0.004, "USD 0.00"),
        (-0.01, "USD -0.01"),
    ],
)
def test_money(amount: float, text: str) -> None:
    assert money_text(amount, "USD") == text


def test_interval_holds_nine_of_ten() -> None:
    # quantiles of 0, 1, ..., 100
    assert interval_text(np.arange(101.0), "USD") == "USD 5.00 to USD 95"


@pytest.mark.parametrize(
    ("days", "text"),
    [
        ([], "never"),
        ([2, 0, 4, 0], "Mon Wed Fri"),
        ([6], "Sun"),
        (range(7), "every day"),
    ],
)
def test_days(days: list[int], text: str) -> None:
    assert days_text(days) == text


def test_counts_and_labels() -> None:
    assert [count_text(n, "day") for n in (0, 1, 2)] == ["0 days", "1 day", "2 days"]
    assert label("product") == "Line"
    assert label("net_sales") == "Net sales"


def test_every_line_of_the_sample_gets_a_reason_with_figures(sample_plan: BakePlan) -> None:
    for plan in sample_plan.lines:
        sentence = why(plan, "USD")
        assert sentence.endswith(".")
        assert "\n" not in sentence
        saving = money_text(abs(float(plan.saving.mean())), "USD")
        assert saving in sentence, plan.line.name
        # the change itself: targets and batches, or why there is none
        if not sentence.startswith("Keep the present habit"):
            low = plan.rule.targets[list(plan.rule.bake_days)].min()
            assert re.search(rf"[ ,]{low}( to \d+)? units", sentence)
            assert re.search(r"about \d+ a bake", sentence)
            days = days_text(plan.rule.bake_days)
            if plan.rule.batch_table is not None:
                days = "on any day" if len(plan.rule.bake_days) == 7 else days
                assert "when the sheet asks for it" in sentence
            elif plan.rule.least_need > 1:
                days = "on any day" if len(plan.rule.bake_days) == 7 else days
                assert f"when {plan.rule.least_need} or more units are missing" in sentence
            assert days in sentence
        assert sentence.startswith(change(plan, "USD"))


def test_parts_of_the_reason_are_those_of_the_saving(sample_plan: BakePlan) -> None:
    for plan in sample_plan.lines:
        found = re.findall(r"USD ([\d,.]+) (more|less) ", why(plan, "USD"))
        told = sum(
            float(amount.replace(",", "")) * (1 if way == "less" else -1) for amount, way in found
        )
        # parts below half a unit of money go unsaid, and amounts from ten on are rounded
        assert told == pytest.approx(float(plan.saving.mean()), abs=3.0), plan.line.name


def test_a_saving_within_its_own_error_is_no_advice(sample_plan: BakePlan) -> None:
    plan = sample_plan.lines[0]
    # as good as now: the plan's own week on both sides
    level = replace(plan, now=plan.plan)
    assert change(level, "USD") == (
        "Keep the present habit: the best standing plan that was found saves only USD 0.00 a week"
    )
    assert why(level, "USD").endswith("a week.")


def test_what_a_plan_could_not_know_is_said(sample_plan: BakePlan) -> None:
    assert doubts(sample_plan) == []
    first, *others = sample_plan.lines
    unlogged = replace(first, habit=replace(first.habit, inferred=True))
    doubtful = replace(
        sample_plan,
        lines=(unlogged, *others),
        left_out={"Rye": "3 days on sale"},
        share_unknown={"Bagels": "there is no disposal log", "Raisin loaf": "of no records"},
    )
    thin, bakes, *shares = doubts(doubtful)
    assert thin == "No plan for Rye: 3 days on sale."
    assert bakes.startswith("The bakes of 1 line are not logged")
    # by reason, in the order of the reasons' words
    assert "Raisin loaf cannot be told, since of no records" in shares[0]
    assert "Bagels cannot be told, since there is no disposal log" in shares[1]


def test_a_line_that_always_sold_out_is_named(sample_plan: BakePlan) -> None:
    (said,) = doubts(replace(sample_plan, from_below=("French bread",)))
    assert said.startswith("French bread sold out on every day, so that the demand is only known")
    assert "step by step" in said


def test_a_line_that_is_foreseen_by_its_last_days_is_named(sample_plan: BakePlan) -> None:
    assert not any("last 8 days" in text for text in doubts(sample_plan))
    named = doubts(replace(sample_plan, by_same_weekday=("Bagels", "Sub rolls")))
    assert any(text.startswith("Bagels, Sub rolls: the last 8 days of each") for text in named)


def test_a_plan_that_saves_nothing_says_to_go_on(sample_plan: BakePlan) -> None:
    saving = f"{money_text(float(sample_plan.saving.mean()), 'USD')} a week"
    assert save_title(sample_plan) == f"Save {saving}"
    said = f"The plan is expected to save {saving} against the present habit"
    assert save_sentence(sample_plan) == said
    # the habit in place of each line's rule, and its days in place of the plan's
    lines = tuple(
        replace(
            line,
            plan=line.now,
            rule=Rule(np.where(np.isin(np.arange(7), line.habit.bake_days), 9, NO_BAKE)),
        )
        for line in sample_plan.lines
    )
    nothing = replace(sample_plan, lines=lines)
    assert float(nothing.saving.mean()) == pytest.approx(0.0, abs=1e-6)
    assert save_title(nothing) == "Bake as you do now"
    assert save_sentence(nothing).endswith(
        "save nothing against the present habit: bake as you do now"
    )
