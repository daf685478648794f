"""Standard times from a stopwatch, as `store.toml` takes them: worked problems of work measurement.

The trap is the base of the allowance: a share of the day divides by 1 - a, a share of the job
multiplies by 1 + a, and the two are never mixed.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from shrinkwise.money.week import Quantities, labour_hours
from shrinkwise.profile.standard_time import Observed
from shrinkwise.profile.store import Labour, Store

ROLLS = {"observed": [20, 23, 19, 18, 24, 25], "rating": 0.85, "allowance": 0.10}
"""Pans of cinnamon rolls, a share of the day: University of Hawaii at Hilo, QBA 361, course note on
time studies. Mean 21.5 and normal time 18.275 are printed there; the note breaks off before the
standard time, which is computed."""


def test_pans_of_rolls_with_an_allowance_of_the_day() -> None:
    timed = Observed.model_validate(ROLLS)
    assert np.mean(timed.observed) == pytest.approx(21.5)
    assert 21.5 * timed.rating == pytest.approx(18.275)
    assert timed.standard_minutes == pytest.approx(20.3056, abs=5e-5)


@pytest.mark.parametrize(
    ("observed", "rating", "standard"),
    [
        # textbook problem as answered on uonbi preguntia, question 14003372 (secondary)
        ([27, 19, 20, 21, 13], 1.20, 28.8),
        # textbook problem as answered on studyx.ai, question 100510392 (secondary)
        ([30, 25, 35, 30, 30], 1.25, 45.0),
    ],
)
def test_an_allowance_of_the_job(observed: list[float], rating: float, standard: float) -> None:
    """In seconds; a fifth of the time at the job."""
    minutes = [second / 60 for second in observed]
    asked = {"observed": minutes, "rating": rating, "allowance": 0.20, "of": "job"}
    found = Observed.model_validate(asked).standard_minutes
    assert 60 * found == pytest.approx(standard)
    # the same share of the day is more: a fifth of the day is a quarter of the rest
    of_day = Observed.model_validate(asked | {"of": "day"}).standard_minutes
    assert of_day / found == pytest.approx(1.25 / 1.2)


def test_elements_add_up() -> None:
    """Four elements of a job, 13% of the day (course summary on stuvia, document 739899,
    secondary; it prints 1.474 for the second element, which is 1.473 unrounded)."""
    elements = (
        (0.452, 0.90, 0.468),
        (1.508, 0.85, 1.473),
        (0.833, 1.10, 1.053),
        (1.15, 1.0, 1.322),
    )
    found = [
        Observed(observed=(mean,), rating=rating, allowance=0.13).standard_minutes
        for mean, rating, _ in elements
    ]
    assert found == pytest.approx([standard for _, _, standard in elements], abs=6e-4)
    assert sum(found) == pytest.approx(4.3160, abs=5e-5)


def test_hours_of_a_week_from_what_was_timed() -> None:
    """Sixty pans of rolls at 20.3056 minutes are 20.3056 hours (computed)."""
    none = {name: 0 for name in Labour.model_fields if name.startswith("minutes")}
    labour = Labour.model_validate(none | {"minutes_per_pan": ROLLS})
    zero = np.zeros(1)
    names = ("baked", "bakes", "labelled", "sold_full", "sold_reduced", "disposed", "unmet")
    week = Quantities(**dict.fromkeys(names, zero), pans=np.array([60.0]), stock_change=zero)
    assert labour_hours(week, labour) == pytest.approx(20.3056, abs=5e-5)


def test_a_store_file_takes_what_was_timed(sample_folder: Path) -> None:
    content = tomllib.loads((sample_folder / "store.toml").read_text(encoding="utf-8"))
    content["labour"]["minutes_per_pan"] = ROLLS
    assert Store.model_validate(content).labour.minutes_per_pan == pytest.approx(20.3056, abs=5e-5)
