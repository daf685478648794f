"""Date marks of filled lines against what health departments print.

All follow Food Code 3-501.17: seven days at 41 F or below, the preparation day being day 1.
"""

from datetime import date

import pytest
from pydantic import ValidationError

from shrinkwise.profile.date_mark import last_day_of_filled
from shrinkwise.profile.line import Line


def test_prepared_on_1_april() -> None:
    """Southern Nevada Health District, date-marking questions and answers: 7 April."""
    assert last_day_of_filled(date(2026, 4, 1)) == date(2026, 4, 7)


def test_made_on_15_october() -> None:
    """Training page on date marking (secondary source): 21 October."""
    assert last_day_of_filled(date(2026, 10, 15)) == date(2026, 10, 21)


def test_the_earliest_ingredient_governs() -> None:
    """Southern Nevada Health District: cooked 1 June, used in chili on 3 June: 7 June."""
    assert last_day_of_filled(min(date(2026, 6, 1), date(2026, 6, 3))) == date(2026, 6, 7)


def test_the_freezer_stops_the_clock_and_does_not_reset_it() -> None:
    """North Carolina date-marking handout: cooked 1 October, frozen on the 3rd, thawed on the
    10th, which is day 3: 14 October."""
    frozen = (date(2026, 10, 10) - date(2026, 10, 3)).days
    assert last_day_of_filled(date(2026, 10, 1), frozen_days=frozen) == date(2026, 10, 14)


@pytest.mark.parametrize(
    ("use_by", "last"), [(date(2026, 3, 5), date(2026, 3, 5)), (date(2026, 4, 1), date(2026, 3, 8))]
)
def test_an_opened_pack_never_passes_its_makers_use_by(use_by: date, last: date) -> None:
    """Minnesota Rules 4626.0400 B(2): opened on 2 March."""
    assert last_day_of_filled(date(2026, 3, 2), use_by=use_by) == last


@pytest.mark.parametrize(("held", "longest"), [(0, 7), (1, 6), (2, 5), (6, 1)])
@pytest.mark.parametrize("filled", [True, None])
def test_a_filled_line_is_never_on_sale_past_its_date_mark(
    held: int, longest: int, filled: bool | None
) -> None:
    """The same rule for a batch: prepared `held` days before its bake day, which counts too. What
    is not said to be unfilled counts as filled."""

    def line(life: int) -> Line:
        return Line(name="Custard slice", category="cakes", price=4, dough_cost=1, filled=filled,
                    shelf_life_days=life, filling_days_before_bake=held)  # fmt: skip

    assert line(longest).longest_life == longest
    assert max(line(longest).lives_to_study) == longest
    with pytest.raises(ValidationError, match="to which a filled line is held"):
        line(longest + 1)


def test_a_filling_held_for_seven_days_is_not_baked() -> None:
    with pytest.raises(ValidationError, match="7 of them gone before the bake day"):
        Line(name="Custard slice", category="cakes", price=4, dough_cost=1, filled=True,
             shelf_life_days=1, filling_days_before_bake=7)  # fmt: skip
