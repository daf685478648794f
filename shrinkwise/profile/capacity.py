"""What the lines share: the oven, the proofer, the racks and the shift."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from shrinkwise.profile.weekdays import WEEKDAYS, Weekday

Unit = Literal["pans", "hours"]

EVERY_DAY_ONCE = "a number for every weekday, or a table such as { friday = 4, saturday = 6 }"


def _by_weekday(value: Any) -> Any:
    """One number stands for every weekday."""
    if isinstance(value, dict):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < inf:
        raise ValueError(f"must be {EVERY_DAY_ONCE}, each 0 or more, but was {value!r}")
    return dict.fromkeys(WEEKDAYS, value)


def _whole_by_weekday(value: Any) -> Any:
    if isinstance(value, float) and not value.is_integer():
        raise ValueError(f"must be a whole number, or a table of them, but was {value!r}")
    return _by_weekday(value)


Wholes = Annotated[
    dict[Weekday, Annotated[int, Field(ge=0, le=100_000)]],
    BeforeValidator(_whole_by_weekday),
    Field(min_length=1),
]
Hours = Annotated[
    dict[Weekday, Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]],
    BeforeValidator(_by_weekday),
    Field(min_length=1),
]


@dataclass(frozen=True)
class Limit:
    """One thing that all lines of a day share.

    Attributes
    ----------
    name : str
        "oven", "proofer", "racks" or "shift".
    setting : str
        Its name in `store.toml`.
    unit : "pans" or "hours"
        In which it is used up.
    most : tuple of float
        What there is on each weekday, Monday first [pans or hours a day]; infinite where nothing
        is said.
    one_more : float
        What one more of it is: an oven load, a pan's place, an hour [pans or hours a day].
    """

    name: str
    setting: str
    unit: Unit
    most: tuple[float, ...]
    one_more: float = 1.0


class Capacity(BaseModel):
    """The `[capacity]` table: what there is to bake with on a day, for all lines together.

    Each limit is one number for every weekday or a table by weekday; a weekday that is not named
    has no limit, nor has what is left out.

    Attributes
    ----------
    oven_loads : dict of str to int, optional
        Loads of the oven by weekday [loads a day].
    pans_per_oven_load : int, optional
        Pans in one load; belongs to `oven_loads`.
    proofer_pans, rack_slots : dict of str to int, optional
        Pans that the proofer and the racks take on a day, one slot a pan [pans a day].
    staffed_hours : dict of str to float, optional
        Working hours for the bake-off [hours a day].
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    oven_loads: Wholes | None = None
    pans_per_oven_load: Annotated[int, Field(ge=1, le=1000)] | None = None
    proofer_pans: Wholes | None = None
    rack_slots: Wholes | None = None
    staffed_hours: Hours | None = None

    @model_validator(mode="after")
    def _loads_have_a_size(self) -> Self:
        if (self.oven_loads is None) != (self.pans_per_oven_load is None):
            given = "oven_loads" if self.oven_loads else "pans_per_oven_load"
            raise ValueError(
                f"oven_loads and pans_per_oven_load must be given together, but only {given} was"
            )
        return self

    @property
    def limits(self) -> tuple[Limit, ...]:
        """Those that are set."""
        load = self.pans_per_oven_load or 1
        found = (
            _limit("oven", "oven_loads", "pans", self.oven_loads, load),
            _limit("proofer", "proofer_pans", "pans", self.proofer_pans),
            _limit("racks", "rack_slots", "pans", self.rack_slots),
            _limit("shift", "staffed_hours", "hours", self.staffed_hours),
        )
        return tuple(limit for limit in found if limit is not None)

    def pans(self, weekday: int) -> float:
        """Most pans of a weekday, Monday 0; infinite without a limit [pans a day].

        A day without an hour for the bake-off has none.
        """
        most = {"pans": inf, "hours": inf}
        for limit in self.limits:
            most[limit.unit] = min(most[limit.unit], limit.most[weekday])
        return most["pans"] if most["hours"] > 0 else 0.0


def _limit(
    name: str, setting: str, unit: Unit, by_day: Mapping[Weekday, float] | None, one_more: int = 1
) -> Limit | None:
    """A limit from its setting, of which each one gives `one_more` pans or hours."""
    if by_day is None:
        return None
    most = tuple(one_more * by_day.get(day, inf) for day in WEEKDAYS)
    return Limit(name, setting, unit, most, float(one_more))
