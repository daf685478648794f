"""A perishable line as a small exact problem: its demand, life, batches and costs, all checked."""

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shrinkwise.engine.refusals import check_cells, check_days, check_numbers, checked_demand
from shrinkwise.engine.shoppers import last_left
from shrinkwise.engine.work import work_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Units = NDArray[np.int64]

MOST_STATES = 5_000_000
"""Shelves times days of the cycle that are still solved: about 300 MB and some minutes."""


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
    picks : "oldest", "freshest" or float
        Which units all shoppers take first; or the share of the oldest-first shoppers, 0 to 1,
        where there are both: of a day's demand D, Binomial(D, share) units are wanted oldest
        first. The two only meet when all is sold. With `lead_days` 0 alone.
    max_batch, batch_step, min_batch : int
        Largest batch [units], the number of units that every batch is a multiple of, and the
        smallest batch but none [units], which is rounded up to a whole step.
    bakes_on : sequence of bool, optional
        Days of the cycle on which a batch may be decided; all of them when left out.
    price : float
        Taken for a unit sold [money per unit]; it counts as a negative cost.
    unit_cost, bake_cost : float
        Per unit baked [money per unit] and per bake of any size [money per bake], both on the
        day on which the batch is decided.
    pan_cost, units_per_pan : float, int
        Per pan that is begun [money per pan], and the units that one holds.
    short_cost, waste_cost : float
        Per unit wanted and not there, and per unit disposed of [money per unit]. A negative
        `waste_cost` is what a disposed unit still brings.
    hold_cost : float
        Per unit on the shelf at the end of the day [money per unit and night].
    hold_counts_waste : bool
        Whether holding is also counted on the units that are disposed of that night.
    last_day_cost, last_sale_cost : float
        Per unit that is there to sell on its last day, such as a label, unless no demand is
        certain that day; and per unit sold on its last day, such as what its price is reduced by
        [money per unit].
    discount : float, optional
        What a cost of tomorrow is worth today, between 0 and 1; None: the long-run cost per day.
    max_units_per_age : int, optional
        Units of one age that a shelf can hold; at least `max_batch`, which it is when left out.
    max_to_sell : int, optional
        Units that can be there to sell on one day, where shoppers of both kinds come: no batch
        goes beyond it, and shelves that do are left out of account. `Rates.full` tells whether
        it mattered. No such limit when left out.

    Raises
    ------
    ValueError
        When an argument is impossible or there are more than `MOST_STATES` shelves and days.
    """

    _: KW_ONLY
    demand: Sequence[Floats]
    shelf_life: int
    lead_days: Literal[0, 1] = 0
    picks: Literal["oldest", "freshest"] | float = "oldest"
    max_batch: int
    batch_step: int = 1
    min_batch: int = 0
    bakes_on: Sequence[bool] | None = None
    price: float = 0.0
    unit_cost: float
    bake_cost: float
    pan_cost: float = 0.0
    units_per_pan: int = 1
    short_cost: float
    waste_cost: float
    hold_cost: float
    hold_counts_waste: bool = False
    last_day_cost: float = 0.0
    last_sale_cost: float = 0.0
    discount: float | None = None
    max_units_per_age: int | None = None
    max_to_sell: int | None = None

    def __post_init__(self) -> None:
        check_numbers(self)
        check_days(self)
        days = tuple(checked_demand(pmf, day) for day, pmf in enumerate(self.demand))
        object.__setattr__(self, "demand", days)
        if self.n_states > MOST_STATES:
            raise ValueError(
                f"{self.n_states:,} states (shelves of {self.shelf_shape} units, youngest first, "
                f"on {len(days)} days) are more than the {MOST_STATES:,} that can be solved: "
                "shorten the shelf life, the largest batch or the cycle"
            )
        check_cells(self)

    @property
    def n_days(self) -> int:
        """Days of the cycle."""
        return len(self.demand)

    @property
    def oldest_share(self) -> float:
        """Share of the oldest-first shoppers, 0 to 1."""
        if isinstance(self.picks, str):
            return float(self.picks == "oldest")
        return float(self.picks)

    @property
    def is_mixed(self) -> bool:
        """Whether it matters that some shoppers take the oldest and others the freshest."""
        return not isinstance(self.picks, str) and self.shelf_life > 1

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
    def work(self) -> float:
        """Inner steps of one round of the cycle back, each about a nanosecond."""
        return work_of(self)

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
        most = batch + sum(size - 1 for size in self.shelf_shape)
        return most if self.max_to_sell is None else min(most, self.max_to_sell)

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
        if self.is_mixed:
            share, most = self.oldest_share, self.most_on_shelf
            return np.stack([last_left(pmf, share, last[-1], most) for pmf in self.demand])
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
        last = np.arange(self.wasted.shape[1])[:, None]
        labelled = np.array([len(pmf) > 1 for pmf in self.demand])[:, None, None] * last
        return np.ascontiguousarray(
            self.short_cost * short
            + self.waste_cost * self.wasted
            + self.hold_cost * held
            - self.price * sold
            + self.last_day_cost * labelled
            + self.last_sale_cost * (last - self.wasted)
        )

    @property
    def smallest_batch(self) -> int:
        """The smallest batch but none, in whole steps [units]."""
        return -(-max(self.min_batch, 1) // self.batch_step) * self.batch_step

    @cached_property
    def batches(self) -> tuple[Units, ...]:
        """Batches that may be decided on each day of the cycle, ascending from 0 on [units]."""
        some = np.array(
            [0, *range(self.smallest_batch, self.max_batch + 1, self.batch_step)], np.int64
        )
        allowed = self.bakes_on if self.bakes_on is not None else (True,) * self.n_days
        return tuple(some if bakes else some[:1] for bakes in allowed)

    @cached_property
    def batch_cost(self) -> Floats:
        """Cost of a batch of 0, 1, ..., `max_batch` units, shape (max_batch + 1,) [money]."""
        units = np.arange(self.max_batch + 1)
        pans = -(-units // self.units_per_pan)
        baked = self.unit_cost * units + self.pan_cost * pans + self.bake_cost * (units > 0)
        return np.asarray(baked, np.float64)
