"""What no perishable problem can be: demands, sizes, days and costs that are refused."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.work import most_cells

if TYPE_CHECKING:
    from shrinkwise.engine.perishable import PerishableProblem

NEVER = 1e-15
"""Probability below which the longest demands are counted as the longest before them."""

MOST_CELLS = 50_000_000
"""Numbers that the loops for shoppers of both kinds may keep at once: 400 MB."""

COSTS = (
    "price",
    "unit_cost",
    "bake_cost",
    "pan_cost",
    "short_cost",
    "waste_cost",
    "hold_cost",
    "last_day_cost",
    "last_sale_cost",
)


def checked_demand(pmf: NDArray[np.float64], day: int) -> NDArray[np.float64]:
    """A day's probabilities, summing to 1 to the last digit and without what never is.

    Raises
    ------
    ValueError
        When they are no probabilities.
    """
    row = np.array(pmf, np.float64)
    if row.ndim != 1 or not row.size or not np.isfinite(row).all() or (row < 0).any():
        raise ValueError(f"demand of day {day} must be a row of probabilities of 0, 1, 2, ...")
    if abs(row.sum() - 1) > 1e-9:
        raise ValueError(
            f"the probabilities of day {day} must sum to 1, but summed to {row.sum():.12g}: "
            "put what lies beyond the last one on the last one"
        )
    row /= row.sum()
    at_least = np.cumsum(row[::-1])[::-1]
    longest = int(np.flatnonzero(at_least >= NEVER)[-1])
    row[longest] = at_least[longest]
    return row[: longest + 1]


def check_numbers(problem: "PerishableProblem") -> None:
    """Refuse what no line can have.

    Raises
    ------
    ValueError
    """
    whole = {"shelf_life": 1, "max_batch": 1, "batch_step": 1, "min_batch": 0, "units_per_pan": 1}
    for name, least in whole.items():
        value = getattr(problem, name)
        if not isinstance(value, int | np.integer) or value < least:
            raise ValueError(f"{name} must be a whole number of at least {least}, but was {value}")
    if problem.lead_days not in (0, 1):
        raise ValueError(f"lead_days must be 0 or 1, but was {problem.lead_days}")
    _check_picks(problem)
    if problem.smallest_batch > problem.max_batch:
        raise ValueError(
            f"batch_step ({problem.batch_step}) and min_batch ({problem.min_batch}) must leave "
            f"room for a batch within max_batch ({problem.max_batch}), or nothing could ever be "
            "baked"
        )
    most = problem.max_units_per_age
    if most is not None and most < problem.max_batch:
        raise ValueError(
            f"max_units_per_age ({most}) must be at least max_batch ({problem.max_batch}), "
            "since a batch that nobody buys stays on the shelf whole"
        )
    room = problem.max_to_sell
    if room is not None and (not problem.is_mixed or room < problem.max_batch):
        raise ValueError(
            f"max_to_sell ({room}) must be at least max_batch ({problem.max_batch}), and goes "
            "with a share of shoppers as picks and a life of two days or more"
        )
    for name in COSTS:
        value = getattr(problem, name)
        if not np.isfinite(value) or (value < 0 and name != "waste_cost"):
            raise ValueError(f"{name} must be a number of at least 0, but was {value}")
    if problem.discount is not None and not 0 < problem.discount < 1:
        raise ValueError(
            f"discount must lie between 0 and 1, but was {problem.discount}; "
            "None asks for the long-run cost per day"
        )


def _check_picks(problem: "PerishableProblem") -> None:
    """Refuse shoppers that cannot be, or that the loops do not know."""
    if problem.picks in ("oldest", "freshest"):
        return
    if isinstance(problem.picks, str) or not 0 <= problem.picks <= 1:
        raise ValueError(
            'picks must be "oldest" or "freshest" or the share of the oldest-first, 0 to 1, '
            f"but was {problem.picks!r}"
        )
    if problem.lead_days:
        raise ValueError(
            "shoppers of both kinds are known with lead_days 0 alone: with a day of lead, "
            'picks must be "oldest" or "freshest"'
        )


def check_days(problem: "PerishableProblem") -> None:
    """Refuse a cycle without days, and days to bake on that are not those of the cycle.

    Raises
    ------
    ValueError
    """
    if not len(problem.demand):
        raise ValueError("demand must have at least one day")
    if problem.bakes_on is not None and len(problem.bakes_on) != len(problem.demand):
        raise ValueError(
            f"bakes_on must say yes or no for each of the {len(problem.demand)} days, but had "
            f"{len(problem.bakes_on)}"
        )


def check_cells(problem: "PerishableProblem") -> None:
    """Refuse what shoppers of both kinds make too large.

    Raises
    ------
    ValueError
    """
    cells = most_cells(problem)
    if cells > MOST_CELLS:
        raise ValueError(
            f"{cells:,} numbers to keep for shoppers of both kinds are more than the "
            f"{MOST_CELLS:,} that can be: shorten the shelf life, the largest batch or max_to_sell"
        )
