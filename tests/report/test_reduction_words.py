"""What is said of the reductions of a line."""

from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.planning.life_study import LifeStudy, LineStudy
from shrinkwise.planning.markdown import MarkdownOption
from shrinkwise.planning.trial import TRIAL_UPLIFT, Trial
from shrinkwise.report.kind_tables import silent_kinds, told_kinds
from shrinkwise.report.reduction_tables import (
    reduction_sentence,
    reduction_sentences,
    reductions_shown,
    reductions_table,
)
from shrinkwise.shelf.kinds import NOT_CLEAR, NOT_SEEN, Estimate

TRIAL = Trial(weeks=10, days_week=2, units=20)
TELLS = (
    "A trial would tell: for 10 weeks, 20 units at the reduced price on 2 days a week in place of "
    "the present reduction, with the reduced sales and markdowns logged."
)
SURE, UNSURE, NOTHING = np.linspace(10, 30, 101), np.linspace(-5, 25, 101), np.zeros(101)


@pytest.fixture(scope="module")
def bagels(sample_study: LifeStudy) -> LineStudy:
    return next(one for one in sample_study.lines if one.line.name == "Bagels")


def never(savings: np.ndarray) -> MarkdownOption:
    return MarkdownOption(None, None, savings, 0.0)


def as_now(study: LineStudy) -> MarkdownOption:
    return MarkdownOption(study.line.reduce_on_day, study.line.reduced_price, NOTHING, 5.0)


def test_a_sure_saving_is_stated_with_its_interval(bagels: LineStudy) -> None:
    study = replace(bagels, markdown=(never(SURE), as_now(bagels)), trial=None)
    assert reduction_sentence(study, "USD") == (
        "Bagels: never to reduce it saves USD 20 a week against the present reduction (in nine of "
        "ten futures USD 11 to USD 29)."
    )


def test_another_price_is_named_with_its_day(bagels: LineStudy) -> None:
    deeper = MarkdownOption(2, 1.5, SURE, 8.0)
    study = replace(bagels, markdown=(deeper, as_now(bagels)), trial=None)
    assert reduction_sentence(study, "USD").startswith(
        "Bagels: to reduce it on day 2 to USD 1.50 saves USD 20 a week"
    )


def test_what_is_not_sure_keeps_the_present_reduction(bagels: LineStudy) -> None:
    study = replace(bagels, markdown=(as_now(bagels), never(UNSURE)), trial=TRIAL)
    assert reduction_sentence(study, "USD") == (
        "Bagels: never to reduce it might save USD 10 a week, but that is not sure (in nine of ten "
        f"futures USD -3.50 to USD 24): keep the present reduction for now. {TELLS}"
    )


def test_where_nothing_is_better_that_is_said(bagels: LineStudy) -> None:
    study = replace(bagels, markdown=(as_now(bagels), never(-SURE)), trial=None)
    assert reduction_sentence(study, "USD") == (
        "Bagels: never to reduce it is no better than the present reduction."
    )
    earlier = MarkdownOption(2, 1.5, -2 * SURE, 8.0)
    more = replace(study, markdown=(as_now(bagels), never(-SURE), earlier))
    assert reduction_sentence(more, "USD") == (
        "Bagels: no other day or price of reduction is better than the present."
    )


def test_where_the_logs_are_silent_a_trial_is_named(bagels: LineStudy) -> None:
    silent = replace(bagels.kinds, bargain=Estimate.silent("there is no markdown log"))
    study = replace(bagels, markdown=(), trial=TRIAL, kinds=silent)
    assert reduction_sentence(study, "USD") == (
        "Bagels: whether a reduction brings shoppers cannot be told, since there is no markdown "
        f"log. {TELLS}"
    )


def test_what_no_trial_would_tell_asks_for_none(bagels: LineStudy) -> None:
    silent = replace(bagels.kinds, bargain=Estimate.silent("there is no disposal log"))
    study = replace(bagels, markdown=(), trial=None, kinds=silent)
    why = "whether a reduction brings shoppers cannot be told, since there is no disposal log."
    assert reduction_sentence(study, "USD") == f"Bagels: {why}"
    never_reduced = bagels.line.model_copy(update={"reduce_on_day": None, "reduced_price": None})
    assert reduction_sentence(replace(study, line=never_reduced), "USD") == ""


def test_nobody_is_asked_for_years_of_trial(bagels: LineStudy) -> None:
    long = Trial(weeks=651, days_week=2, units=2)
    study = replace(bagels, markdown=(as_now(bagels), never(-SURE)), trial=long)
    assert reduction_sentence(study, "USD").endswith(
        "It sells too little for a trial to tell: that would take 651 weeks."
    )


def test_there_may_be_more_bargain_shoppers_than_others(
    sample_study: LifeStudy, bagels: LineStudy
) -> None:
    kinds = replace(bagels.kinds, bargain=Estimate(0.9, 0.2, 1.704, NOT_CLEAR))
    study = replace(sample_study, lines=(replace(bagels, kinds=kinds),))
    assert "bargain" in told_kinds(study)["shoppers"].to_list()
    unseen = replace(kinds, bargain=replace(kinds.bargain, reason=NOT_SEEN))
    said = silent_kinds(replace(study, lines=(replace(bagels, kinds=unseen),)))
    assert "Bagels (fewer than 170 for 100 others)" in said[-1]


def test_lines_never_to_reduce_stand_in_one_sentence(
    sample_study: LifeStudy, bagels: LineStudy
) -> None:
    more = replace(bagels, line=bagels.line.model_copy(update={"name": "Buns"}))
    lines = (
        replace(bagels, markdown=(never(SURE), as_now(bagels))),
        replace(more, markdown=(never(2 * SURE), as_now(bagels))),
    )
    assert reduction_sentences(replace(sample_study, lines=lines)) == [
        "Never to reduce them saves, by what the logs tell (in brackets nine of ten futures): "
        "Buns USD 40 a week (USD 22 to USD 58), Bagels USD 20 a week (USD 11 to USD 29)."
    ]


def test_how_many_unseen_shoppers_there_may_be_is_said(
    sample_study: LifeStudy, bagels: LineStudy
) -> None:
    kinds = replace(bagels.kinds, bargain=Estimate(0.03, 0.0, 0.074, NOT_SEEN))
    said = silent_kinds(replace(sample_study, lines=(replace(bagels, kinds=kinds),)))
    assert said[-1] == (
        "No bargain shoppers are told of Bagels (fewer than 7 for 100 others): the logs show no "
        "sign of them. In 19 of 20 cases there are fewer than so many."
    )


def test_the_age_of_units_that_last_a_day_says_nothing_of_who_takes_them(
    sample_study: LifeStudy,
) -> None:
    line = next(one for one in sample_study.lines if one.line.name == "French bread")
    said = silent_kinds(replace(sample_study, lines=(line,)))
    why = "all units of a life of one day are equally fresh"
    assert said[:2] == [
        f"No {kind} shoppers are told of French bread: {why}." for kind in ("oldest-first", "fussy")
    ]


def test_the_table_for_reading_holds_intervals_and_no_false_precision(
    sample_study: LifeStudy, bagels: LineStudy
) -> None:
    study = replace(bagels, markdown=(never(SURE), as_now(bagels)))
    shown = reductions_shown(reductions_table(replace(sample_study, lines=(study,))))
    assert shown.rows() == [
        ("Bagels", "never", None, "no", "20.00 (11.00 to 29.00)", 0.0),
        ("Bagels", "3", bagels.line.reduced_price, "yes", "0.00 (0.00 to 0.00)", 5.0),
    ]


def test_a_trial_is_named_where_it_would_tell(sample_study: LifeStudy) -> None:
    """Not where the logs leave fewer bargain shoppers open than it could show."""
    never_reduced = [one for one in sample_study.lines if one.line.reduce_on_day is None]
    for study in never_reduced:
        assert (study.trial is not None) == (study.line.shelf_life_days > 1)
    bounded = [
        one
        for one in sample_study.lines
        if one.kinds.bargain.high is not None and one.kinds.bargain.high < TRIAL_UPLIFT
    ]
    assert len(bounded) > 5
    assert all(one.trial is None for one in bounded)
