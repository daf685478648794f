"""One line (a product as sold) as its `[[lines]]` block describes it."""

from datetime import date
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from shrinkwise.profile.date_mark import FILLED_DAYS, longest_filled_life
from shrinkwise.profile.weekdays import Weekday

LONGEST_LIFE = 30
"""[days]"""

LARGEST_BATCH = 10_000
"""Beyond any bake of one line [units]."""

Money = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Days = Annotated[int, Field(ge=1, le=LONGEST_LIFE)]


class Line(BaseModel):
    """A product as sold.

    Attributes
    ----------
    name, category : str
        `name` is what the logs call `product`.
    also_called : tuple of str
        Other names and codes under which the logs speak of the line.
    introduced : datetime.date or None
        First day on sale, where the store knows it.
    price, dough_cost, disposal_cost : float
        [money per unit]. Disposal cost is what it costs to get rid of one unit.
    shelf_life_days : int
        Days on sale, bake day included [days].
    shelf_life_study : tuple of int
        Shelf lives to study beside the present one [days]; by default one day less, one more
        and two more, never past the limit of a filled line.
    reduce_on_day : int or None
        Day on shelf from which units carry `reduced_price`; None when the line is never reduced.
    pieces_per_unit, units_per_pan : int
        Dough pieces in a unit; units on one sheet pan.
    batch_step : int
        Batches are whole multiples of this many units.
    min_batch, max_batch : int, int or None
        Units of the smallest and the largest bake [units]; None for no limit.
    no_bake_days : tuple of str
        Weekdays on which the line is not to be baked.
    in_stock_floor_pct : float or None
        Least share of open days on which no shopper may go without [% of open days].
    filled : bool or None
        Holds cream, custard or another filling that must be kept cold. None (not said) counts
        as filled where a life beyond seven days is asked for.
    unit_weight_kg : float or None
        Weight of a unit as it is sold [kg].
    case_units : float or None
        Units in a case of frozen dough.
    freezer_weeks : float or None
        Weeks that a case keeps in the store's freezer [weeks].
    min_order_cases : int
        Cases of the smallest order.
    filling_days_before_bake : int
        Days that the filling was held cold before the bake day, those in the freezer not counted:
        a filled line is held to seven days from its preparation day [days].
    """

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    name: str = Field(min_length=1)
    category: str = Field(min_length=1)
    also_called: tuple[Annotated[str, Field(min_length=1)], ...] = ()
    introduced: date | None = None
    price: float = Field(gt=0, le=1e6, allow_inf_nan=False)
    dough_cost: Money
    shelf_life_days: Days
    shelf_life_study: tuple[Days, ...] = ()
    reduce_on_day: Annotated[int, Field(ge=1, le=30)] | None = None
    reduced_price: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    disposal_cost: Money = 0.0
    pieces_per_unit: Annotated[int, Field(ge=1, le=500)] = 6
    units_per_pan: Annotated[int, Field(ge=1, le=500)] = 4
    batch_step: Annotated[int, Field(ge=1, le=500)] = 1
    min_batch: Annotated[int, Field(ge=0, le=LARGEST_BATCH)] = 0
    max_batch: Annotated[int, Field(ge=1, le=LARGEST_BATCH)] | None = None
    no_bake_days: tuple[Weekday, ...] = ()
    in_stock_floor_pct: Annotated[float, Field(ge=0, le=100)] | None = None
    filled: bool | None = None
    filling_days_before_bake: Annotated[int, Field(ge=0, le=LONGEST_LIFE)] = 0
    unit_weight_kg: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    case_units: Annotated[float, Field(gt=0, le=1e6, allow_inf_nan=False)] | None = None
    freezer_weeks: Annotated[float, Field(gt=0, le=520, allow_inf_nan=False)] | None = None
    min_order_cases: Annotated[int, Field(ge=1, le=1000)] = 1

    @model_validator(mode="after")
    def _reduction_is_whole(self) -> Self:
        if (self.reduce_on_day is None) != (self.reduced_price is None):
            raise ValueError("reduce_on_day and reduced_price must be given together")
        if self.reduced_price is not None and self.reduced_price >= self.price:
            raise ValueError(
                f"reduced_price must be below the price {self.price:g}, "
                f"but was {self.reduced_price:g}"
            )
        if self.reduce_on_day is not None and self.reduce_on_day > self.shelf_life_days:
            raise ValueError(
                f"reduce_on_day must be within the shelf life of {self.shelf_life_days} days, "
                f"but was {self.reduce_on_day}"
            )
        return self

    @model_validator(mode="after")
    def _some_batch_is_allowed(self) -> Self:
        most = self.most_batch
        if most is not None and most < max(self.least_batch, 1):
            raise ValueError(
                f"max_batch must leave room for a batch of {max(self.least_batch, self.batch_step)}"
                f" units (min_batch {self.min_batch}, in steps of {self.batch_step}), but was "
                f"{self.max_batch}"
            )
        return self

    @model_validator(mode="after")
    def _filled_is_held_to_the_limit(self) -> Self:
        longest = max((self.shelf_life_days, *self.shelf_life_study))
        held = self.filling_days_before_bake
        if self.filled is False and held:
            raise ValueError(
                f"filling_days_before_bake is {held}, but filled = false says that there is no "
                "filling: take one of them out"
            )
        if longest > self.longest_life:
            before = f" ({held} of them gone before the bake day)" if held else ""
            raise ValueError(
                f"a shelf life of {longest} days is beyond the {FILLED_DAYS} days, "
                f"preparation day counted, to which a filled line is held{before}; set filled = "
                "false only if the line has no cream, custard or other filling that must be kept "
                "cold"
            )
        return self

    @model_validator(mode="after")
    def _freezer_knows_its_case(self) -> Self:
        if self.case_units is None and (self.freezer_weeks or self.min_order_cases > 1):
            given = "freezer_weeks" if self.freezer_weeks else "min_order_cases"
            raise ValueError(f"{given} needs case_units, the units in a case of frozen dough")
        return self

    @property
    def order_units(self) -> float | None:
        """Units in the smallest order of frozen dough; None where the case is not known."""
        return None if self.case_units is None else self.min_order_cases * self.case_units

    @property
    def least_pace(self) -> float:
        """Units a week below which the smallest order outlives its days in the freezer; 0 without
        a limit [units per week]."""
        if self.order_units is None or self.freezer_weeks is None:
            return 0.0
        return self.order_units / self.freezer_weeks

    @property
    def longest_life(self) -> int:
        """Shelf life beyond which the line is never planned; the maker's code may be shorter
        [days]."""
        filled = self.filled is not False
        return longest_filled_life(self.filling_days_before_bake) if filled else LONGEST_LIFE

    @property
    def least_batch(self) -> int:
        """The smallest bake in whole steps [units]."""
        return -(-self.min_batch // self.batch_step) * self.batch_step

    @property
    def most_batch(self) -> int | None:
        """The largest bake in whole steps [units]; None without a limit."""
        return (
            None if self.max_batch is None else self.max_batch // self.batch_step * self.batch_step
        )

    def most_units(self, ceiling: int | None = None) -> int:
        """Units of the largest bake under a ceiling, in whole steps and no less than the smallest
        [units]; 32,767 in whole steps where nothing bounds it."""
        most = 2**15 - 1
        for limit in (self.max_batch, ceiling):
            most = most if limit is None else min(most, limit)
        return max(most // self.batch_step * self.batch_step, self.least_batch, self.batch_step)

    @property
    def least_pans(self) -> int:
        """Pans of the smallest bake."""
        return -(-max(self.least_batch, self.batch_step) // self.units_per_pan)

    def within_pans(self, most: float) -> Self:
        """This line with no bake of more than so many pans, where its smallest one has room.

        Parameters
        ----------
        most : float
            [pans]
        """
        largest = LARGEST_BATCH if self.max_batch is None else self.max_batch
        if most < self.least_pans or most * self.units_per_pan >= largest:
            return self
        return self.model_copy(update={"max_batch": int(most) * self.units_per_pan})

    def batch_for(self, units: int, ceiling: int | None = None) -> int:
        """The bake that gives at least so many units, in whole steps within the line's limits and
        a ceiling [units]."""
        if units <= 0:
            return 0
        steps = -(-units // self.batch_step) * self.batch_step
        return max(min(steps, self.most_units(ceiling)), self.least_batch)

    @property
    def lives_to_study(self) -> tuple[int, ...]:
        """The present shelf life and the studied ones, ascending, without repeats [days]."""
        life = self.shelf_life_days
        study = self.shelf_life_study or (life - 1, life + 1, life + 2)
        return tuple(sorted({day for day in (life, *study) if 1 <= day <= self.longest_life}))

    @property
    def unit_margin(self) -> float:
        """Price less dough cost [money per unit]: what one missed shopper costs."""
        return self.price - self.dough_cost

    def with_life(self, days: int) -> Self:
        """This line with another shelf life; the day of reduction keeps its distance to the end.

        A unit that was fresh at the full price is never reduced before its second day, so that a
        line of one day is not; a line that is reduced from its bake day on stays so.

        Parameters
        ----------
        days : int
            The other shelf life [days].
        """
        if days == self.shelf_life_days:
            return self
        moved: dict[str, int | None] = {"shelf_life_days": days}
        if self.reduce_on_day is not None and self.reduce_on_day > 1:
            reduce_on_day = max(self.reduce_on_day + days - self.shelf_life_days, 2)
            moved["reduce_on_day"] = reduce_on_day
            if reduce_on_day > days:
                moved |= {"reduce_on_day": None, "reduced_price": None}
        return self.model_copy(update=moved)
