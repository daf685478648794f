"""What a day is worth: by hand, and the break-even dough cost against a week played with it."""

from dataclasses import replace

import numpy as np
import pytest

from shrinkwise.money.week import money_of
from shrinkwise.planning.life_study import LifeStudy
from shrinkwise.planning.life_worth import STEPS, worth
from shrinkwise.planning.outcome import Outcome
from shrinkwise.planning.settings import PlanSettings
from shrinkwise.report.life_tables import shelf_life_table
from shrinkwise.report.life_words import worth_sentence, worth_title

QUICK = PlanSettings(search_paths=10, judge_paths=40, weeks=4, finalists=1)


@pytest.mark.parametrize("thrown", [0.0, 6.0])
def test_break_even_dough_cost_pays_exactly(sample_study: LifeStudy, thrown: float) -> None:
    """With that much dearer dough, the same plan's result and stock are worth what they were, also
    where some of the dough is thrown from the freezer."""
    labour, checked = sample_study.store.labour, 0
    for line in sample_study.lines:
        present = line.option(line.line.shelf_life_days)
        assert present is not None
        for option in line.options:
            week = option.best.quantities
            week = replace(week, freezer_disposed=week.freezer_disposed + thrown)
            best = replace(option.best, quantities=week, money=money_of(week, option.line, labour))
            found = worth([present.best], [best])
            if option is present or np.isnan(found.dough):
                continue
            cost = option.line.dough_cost + found.dough
            dearer = option.line.model_copy(update={"dough_cost": cost})
            money = money_of(week, dearer, labour)
            base = present.best
            then = money.result + cost * week.stock_change
            now = base.money.result + present.line.dough_cost * base.quantities.stock_change
            assert then.mean() == pytest.approx(now.mean(), abs=1e-6)
            checked += 1
    assert checked > 40


def test_the_error_of_the_break_even_is_that_of_resampled_futures(sample_study: LifeStudy) -> None:
    line = next(one for one in sample_study.lines if one.line.name == "Croissants")
    present, longer = line.option(2), line.option(3)
    assert present is not None
    assert longer is not None
    found = worth([present.best], [longer.best])
    saved = present.best.money.loss - longer.best.money.loss
    used = longer.best.quantities.baked - longer.best.quantities.stock_change
    rng = np.random.default_rng(1)
    drawn = rng.integers(0, len(saved), (4000, len(saved)))
    ratios = saved[drawn].mean(axis=1) / used[drawn].mean(axis=1)
    assert found.dough == pytest.approx(saved.mean() / used.mean())
    # 4,000 resamples: their spread is known to about 1%, and the linear part leaves out little
    assert found.dough_se == pytest.approx(ratios.std(), rel=0.1)
    assert found.saving_se == pytest.approx(saved.std(ddof=1) / np.sqrt(len(saved)))


def test_the_interval_is_that_of_nine_futures_of_ten(sample_study: LifeStudy) -> None:
    """Of what is saved; in the table of the line, of what is lost more."""
    line = next(one for one in sample_study.lines if one.line.name == "Croissants")
    present, longer = line.option(2), line.option(3)
    assert present is not None
    assert longer is not None
    saved = present.best.money.loss - longer.best.money.loss
    found = worth([present.best], [longer.best])
    assert found.interval == pytest.approx(np.quantile(saved, (0.05, 0.95)))
    table = shelf_life_table(sample_study).filter(product="Croissants", shelf_life_days=3)
    ends = [table[f"loss_week_difference_{end}"][0] for end in ("low", "high")]
    assert ends == pytest.approx(np.quantile(-saved, (0.05, 0.95)))


def test_the_stores_day_is_the_sum_of_its_lines(sample_study: LifeStudy) -> None:
    steps = sample_study.by_extra_days()
    assert steps["extra_days"].to_list() == list(STEPS)
    whole = [
        line
        for line in sample_study.lines
        if all(line.option(line.line.shelf_life_days + step) for step in STEPS)
    ]
    assert set(steps["lines"]) == {len(whole)}

    def best(step: int) -> list[Outcome]:
        options = [line.option(line.line.shelf_life_days + step) for line in whole]
        return [option.best for option in options if option is not None]

    for row in steps.iter_rows(named=True):
        saved = sum(
            now.money.loss - then.money.loss
            for now, then in zip(best(0), best(row["extra_days"]), strict=True)
        )
        assert row["saving_week"] == pytest.approx(np.mean(saved), abs=1e-9)
        assert row["bakes_best"] == pytest.approx(
            sum(one.quantities.bakes.mean() for one in best(row["extra_days"]))
        )
    # days are worth less and less, and longer life lets the store bake less often
    values = steps["saving_week"].diff().drop_nulls()
    assert values.is_sorted(descending=True)
    assert (values > 3 * steps["saving_week_se"].max()).all()
    assert steps["bakes_best"].is_sorted(descending=True)


def test_the_sentence_says_what_dough_may_cost(sample_study: LifeStudy) -> None:
    day = sample_study.by_extra_days().row(STEPS.index(1), named=True)
    said = worth_sentence(sample_study)
    assert said.startswith(f"One more day for all {day['lines']} lines saves USD ")
    low, high = (f"USD {day[f'saving_week_{end}']:.0f}" for end in ("low", "high"))
    assert f"(in nine of ten futures {low} to {high}; standard error " in said
    assert f"costs no more than USD {day['extra_dough_cost']:.2f} above" in said
    title = worth_title(sample_study)
    assert title == f"One more day on shelf: USD {day['saving_week']:.0f} a week"


def test_no_line_with_every_step_says_nothing(sample_study: LifeStudy) -> None:
    line = next(one for one in sample_study.lines if one.line.name == "French bread")
    alone = replace(sample_study, lines=(line,))
    assert alone.by_extra_days().is_empty()
    assert worth_sentence(alone) == ""
    assert worth_title(alone) == "What one more day on shelf is worth"
