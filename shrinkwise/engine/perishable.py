"""A perishable line as a small exact problem: its demand, life, batches and costs, all checked."""

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

MOST_STATES = 5_000_000
"""Shelves times days of the cycle that are still solved: about 300 MB and some minutes."""

NEVER = 1e-15
"""Probability below which the longest demands are counted as the longest before them."""


@dataclass(frozen=True, eq=False)
class PerishableProblem:
    """How much to bake of one line, when everything about its demand is known but the draw.

    Each day, in this order: the batch arrives (decided the evening before with `lead_days` 0, one
    day earlier with 1), units are sold, units on their last day are disposed of, costs are
    counted. Demand that finds nothing is lost.

    A shelf is the stock by age after the night's disposal, youngest first: `shelf_life` - 1
    numbers of units. With `lead_days` 1 the batch that was ordered the day before, and is on the
    shelf before today's demand, stands in front of them.

    Parameters
    ----------
    demand : sequence of array of float
        Probabilities of 0, 1, 2, ... units for each day of the cycle; each sums to 1.
    shelf_life : int
        Days on sale, bake day included [days].
    lead_days : 0 or 1
        0: decided the evening before, on the shelf before today's demand. 1: decided before
        today's demand, on the shelf tomorrow, where its life begins.
    picks : "oldest" or "freshest"
        Which units all shoppers take first.
    max_batch, batch_step : int
        Largest batch [units], and the number of units that every batch is a multiple of.
    price : float
        Taken for a unit sold [money per unit]; it counts as a negative cost.
    unit_cost, bake_cost : float
        Per unit baked [money per unit] and per bake of any size [money per bake], both on the
        day on which the batch is decided.
    short_cost, waste_cost : float
        Per unit wanted and not there, and per unit disposed of [money per unit]. A negative
        `waste_cost` is what a disposed unit still brings.
    hold_cost : float
        Per unit on the shelf at the end of the day [money per unit and night].
    hold_counts_waste : bool
        Whether holding is also counted on the units that are disposed of that night.
    discount : float, optional
        What a cost of tomorrow is worth today, between 0 and 1; None: the long-run cost per day.
    max_units_per_age : int, optional
        Units of one age that a shelf can hold; at least `max_batch`, which it is when left out.

    Raises
    ------
    ValueError
        When an argument is impossible or there are more than `MOST_STATES` shelves and days.
    """

    _: KW_ONLY
    demand: Sequence[Floats]
    shelf_life: int
    lead_days: Literal[0, 1] = 0
    picks: Literal["oldest", "freshest"] = "oldest"
    max_batch: int
    batch_step: int = 1
    price: float = 0.0
    unit_cost: float
    bake_cost: float
    short_cost: float
    waste_cost: float
    hold_cost: float
    hold_counts_waste: bool = False
    discount: float | None = None
    max_units_per_age: int | None = None

    def __post_init__(self) -> None:
        _check_numbers(self)
        days = tuple(_checked(pmf, day) for day, pmf in enumerate(self.demand))
        if not days:
            raise ValueError("demand must have at least one day")
        object.__setattr__(self, "demand", days)
        if self.n_states > MOST_STATES:
            raise ValueError(
                f"{self.n_states:,} states (shelves of {self.shelf_shape} units, youngest first, "
                f"on {len(days)} days) are more than the {MOST_STATES:,} that can be solved: "
                "shorten the shelf life, the largest batch or the cycle"
            )

    @property
    def n_days(self) -> int:
        """Days of the cycle."""
        return len(self.demand)

    @property
    def most_of_an_age(self) -> int:
        """Units of one age that a shelf can hold."""
        return self.max_batch if self.max_units_per_age is None else self.max_units_per_age

    @property
    def shelf_shape(self) -> tuple[int, ...]:
        """Numbers of units that each place of the shelf can hold and 0, youngest first."""
        on_order = (self.max_batch + 1,) * self.lead_days
        return on_order + (self.most_of_an_age + 1,) * (self.shelf_life - 1)

    @property
    def n_states(self) -> int:
        """Shelves times days of the cycle."""
        # python's own whole numbers do not overflow
        states = self.n_days
        for size in self.shelf_shape:
            states *= size
        return states

    @cached_property
    def tail(self) -> Floats:
        """P(demand >= k), shape (n_days, K); zeros at least from the longest demand + 1 on.

        Long enough to look up any demand plus a whole shelf with a batch.
        """
        longest = max(len(pmf) for pmf in self.demand)
        rows = np.zeros((self.n_days, longest + self.most_on_shelf + 2))
        for row, pmf in zip(rows, self.demand, strict=True):
            row[: len(pmf)] = np.cumsum(pmf[::-1])[::-1]
        return rows

    @property
    def most_on_shelf(self) -> int:
        """Most units that can be there to sell on one day."""
        batch = 0 if self.lead_days else self.max_batch
        return batch + sum(size - 1 for size in self.shelf_shape)

    @cached_property
    def mean_demand(self) -> Floats:
        """Units wanted by day of the cycle, shape (n_days,)."""
        return np.array([pmf @ np.arange(len(pmf)) for pmf in self.demand])

    @cached_property
    def left_over(self) -> Floats:
        """E(n - demand)+ for n units to sell, shape (n_days, most_on_shelf + 1)."""
        sold_out_at = np.cumsum(self.tail[:, 1 : self.most_on_shelf + 1], axis=1)
        sold = np.concatenate([np.zeros((self.n_days, 1)), sold_out_at], axis=1)
        return np.arange(self.most_on_shelf + 1) - sold

    @cached_property
    def wasted(self) -> Floats:
        """Units disposed of at night, shape (n_days, of_last_day + 1, most_on_shelf + 1).

        By the units to sell that are on their last day, and all units to sell; combinations with
        more on their last day than there are have no meaning.
        """
        last = np.arange(min(self.most_of_an_age, self.most_on_shelf) + 1)
        if self.picks == "oldest":
            return np.repeat(self.left_over[:, last, None], self.most_on_shelf + 1, axis=2)
        without = np.maximum(np.arange(self.most_on_shelf + 1) - last[:, None], 0)
        return self.left_over[:, None, :] - self.left_over[:, without]

    @cached_property
    def day_cost(self) -> Floats:
        """Cost of a day's trade without its bake, shape as `wasted` [money]."""
        left = self.left_over[:, None, :]
        sold = np.arange(self.most_on_shelf + 1) - left
        held = left - (0.0 if self.hold_counts_waste else self.wasted)
        short = self.mean_demand[:, None, None] - sold
        return np.ascontiguousarray(
            self.short_cost * short
            + self.waste_cost * self.wasted
            + self.hold_cost * held
            - self.price * sold
        )

    @cached_property
    def batch_cost(self) -> Floats:
        """Cost of a batch of 0, 1, ..., `max_batch` units, shape (max_batch + 1,) [money]."""
        units = np.arange(self.max_batch + 1)
        return np.asarray(self.unit_cost * units + self.bake_cost * (units > 0), np.float64)


def _checked(pmf: Floats, day: int) -> Floats:
    """A day's probabilities, summing to 1 to the last digit and without what never is."""
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


def _check_numbers(problem: PerishableProblem) -> None:
    """Refuse what no line can have."""
    whole = {"shelf_life": 1, "max_batch": 1, "batch_step": 1}
    for name, least in whole.items():
        value = getattr(problem, name)
        if not isinstance(value, int | np.integer) or value < least:
            raise ValueError(f"{name} must be a whole number of at least {least}, but was {value}")
    if problem.lead_days not in (0, 1):
        raise ValueError(f"lead_days must be 0 or 1, but was {problem.lead_days}")
    if problem.picks not in ("oldest", "freshest"):
        raise ValueError(f'picks must be "oldest" or "freshest", but was {problem.picks!r}')
    if problem.batch_step > problem.max_batch:
        raise ValueError(
            f"batch_step ({problem.batch_step}) must not be more than max_batch "
            f"({problem.max_batch}), or nothing could ever be baked"
        )
    most = problem.max_units_per_age
    if most is not None and most < problem.max_batch:
        raise ValueError(
            f"max_units_per_age ({most}) must be at least max_batch ({problem.max_batch}), "
            "since a batch that nobody buys stays on the shelf whole"
        )
    for name in ("price", "unit_cost", "bake_cost", "short_cost", "waste_cost", "hold_cost"):
        value = getattr(problem, name)
        if not np.isfinite(value) or (value < 0 and name != "waste_cost"):
            raise ValueError(f"{name} must be a number of at least 0, but was {value}")
    if problem.discount is not None and not 0 < problem.discount < 1:
        raise ValueError(
            f"discount must lie between 0 and 1, but was {problem.discount}; "
            "None asks for the long-run cost per day"
        )
