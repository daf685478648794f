"""The store as `store.toml` describes it."""

from math import inf
from typing import Annotated, Any, Literal, Self

import holidays
from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from shrinkwise.profile.capacity import Capacity
from shrinkwise.profile.line import Line, Money
from shrinkwise.profile.standard_time import StandardMinutes
from shrinkwise.profile.weekdays import WEEKDAYS, Weekday

TableName = Literal["sales", "markdowns", "disposals", "bakes", "counts", "events"]

DateOrder = Literal["year-month-day", "month-day-year", "day-month-year"]
DecimalMark = Literal[".", ","]


def _subdivisions(country: str) -> tuple[str, ...] | None:
    """States of a country whose holidays are known; None where the country is not.

    Asked for by itself: the list of all countries would load the calendar of each.
    """
    if len(country) != 2 or not country.isalpha() or not country.isupper():
        return None
    try:
        return tuple(holidays.country_holidays(country).subdivisions)
    except NotImplementedError:
        return None


def _allowed(line: Line, open_days: tuple[Weekday, ...]) -> tuple[int, ...]:
    """Open weekdays on which a line may be baked, whether or not there is room for it."""
    return tuple(
        number
        for number, day in enumerate(WEEKDAYS)
        if day in open_days and day not in line.no_bake_days
    )


class Labour(BaseModel):
    """What an hour costs and where the minutes go.

    Minutes are standard times: what a job takes at the usual pace, breaks and delays included. A
    table of what was timed stands for them, too (`profile/standard_time.py`). The defaults are
    assumptions until the store sets its own (common practice, no source).
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    wage_per_hour: Money = Field(default=25.0, description="[money per hour], on-cost included")
    minutes_per_bake: StandardMinutes = Field(
        default=8.0, description="set-up of one line on one day [min]"
    )
    minutes_per_pan: StandardMinutes = Field(
        default=2.0, description="panning, loading, unloading a pan [min]"
    )
    minutes_per_unit: StandardMinutes = Field(
        default=0.4, description="bagging and dating a unit [min]"
    )
    minutes_per_reduced_unit: StandardMinutes = Field(
        default=0.3, description="relabelling a unit [min]"
    )
    minutes_per_disposed_unit: StandardMinutes = Field(
        default=0.3, description="taking off and logging [min]"
    )
    minutes_per_baking_day: StandardMinutes = Field(
        default=30.0, description="opening and cleaning [min]"
    )


class Store(BaseModel):
    """A store: its calendar, its labour and its lines.

    `columns`, `date_order` and `decimal_mark` say by table how its exports are written, where
    they cannot show it themselves. `largest_file_mb` is the largest log that is read, unpacked
    [million bytes]. `in_stock_floor_pct` holds for every line that sets none of its own, and no
    line's largest bake is more than `capacity` has room for on its roomiest day.
    `demand_after_count_pct` is the share of a day's demand that comes after the shelf was counted
    for the next day's bake; the records then end at that count.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    name: str = Field(min_length=1)
    currency: str = Field(min_length=1, max_length=8)
    country: str = Field(min_length=2, max_length=3)
    state: str | None = None
    week_start: Weekday = "monday"
    open_days: tuple[Weekday, ...] = Field(default=WEEKDAYS, min_length=1)
    labour: Labour = Labour()
    capacity: Capacity | None = None
    columns: dict[TableName, dict[str, str]] = Field(default_factory=dict)
    date_order: dict[TableName, DateOrder] = Field(default_factory=dict)
    decimal_mark: dict[TableName, DecimalMark] = Field(default_factory=dict)
    in_stock_floor_pct: Annotated[float, Field(ge=0, le=100)] | None = None
    demand_after_count_pct: Annotated[float, Field(ge=0, lt=100)] = 0
    largest_file_mb: int = Field(default=500, ge=1, le=100_000)
    lines: tuple[Line, ...] = Field(min_length=1)

    @model_validator(mode="before")
    @classmethod
    def _lines_take_the_floor(cls, content: Any) -> Any:
        floor = content.get("in_stock_floor_pct") if isinstance(content, dict) else None
        lines = content.get("lines") if floor is not None else None
        if not isinstance(lines, list):
            return content
        taken = [
            {"in_stock_floor_pct": floor} | line if isinstance(line, dict) else line
            for line in lines
        ]
        return content | {"lines": taken}

    @field_validator("country")
    @classmethod
    def _country_is_known(cls, country: str) -> str:
        if _subdivisions(country) is None:
            raise ValueError(
                "must be a two-letter code with known public holidays, such as US or DE, "
                f"but was {country!r}"
            )
        return country

    @field_validator("state")
    @classmethod
    def _state_is_known(cls, state: str | None, info: ValidationInfo) -> str | None:
        country = info.data.get("country")
        if state is None or country is None:
            return state
        states = _subdivisions(country) or ()
        if state not in states:
            known = ", ".join(states) or "none"
            raise ValueError(
                f"must be one of those known for {country} ({known}), but was {state!r}"
            )
        return state

    @field_validator("lines")
    @classmethod
    def _lines_are_told_apart(cls, lines: tuple[Line, ...]) -> tuple[Line, ...]:
        seen: dict[str, int] = {}
        for block, line in enumerate(lines, start=1):
            if line.name in seen:
                raise ValueError(
                    f"[[lines]] blocks {seen[line.name]} and {block} both have the name "
                    f"{line.name!r}, but each line needs a name of its own"
                )
            seen[line.name] = block
        owner = {line.name: line.name for line in lines}
        for line in lines:
            for name in line.also_called:
                if owner.setdefault(name, line.name) != line.name:
                    raise ValueError(
                        f"also_called of {line.name!r} holds {name!r}, which already means "
                        f"{owner[name]!r}, but a name or code can mean one line only"
                    )
        return lines

    @field_validator("lines")
    @classmethod
    def _no_bake_is_beyond_the_capacity(
        cls, lines: tuple[Line, ...], info: ValidationInfo
    ) -> tuple[Line, ...]:
        capacity, open_days = info.data.get("capacity"), info.data.get("open_days", WEEKDAYS)
        if capacity is None:
            return lines
        roomiest = {
            line.name: max((capacity.pans(day) for day in _allowed(line, open_days)), default=inf)
            for line in lines
        }
        return tuple(line.within_pans(roomiest[line.name]) for line in lines)

    @model_validator(mode="after")
    def _every_line_has_a_day(self) -> Self:
        for line in self.lines:
            if not _allowed(line, self.open_days):
                raise ValueError(
                    f"no_bake_days of {line.name!r} leave no open day on which it may be baked"
                )
            if not self.bake_weekdays(line):
                raise ValueError(
                    f"capacity has no room on any day for the smallest bake of {line.name!r} "
                    f"({max(line.least_batch, line.batch_step)} units, {line.units_per_pan} a pan)"
                )
        return self

    def bake_weekdays(self, line: Line) -> tuple[int, ...]:
        """Weekdays on which a line may be baked and there is room for it, Monday 0 to Sunday 6,
        ascending."""
        allowed = _allowed(line, self.open_days)
        if self.capacity is None:
            return allowed
        return tuple(day for day in allowed if self.capacity.pans(day) >= line.least_pans)

    def with_capacity(self, capacity: Capacity) -> Self:
        """This store with other limits. A largest bake that is as much as the present ones have
        room for was held to them, and is held to the new ones instead.

        Raises
        ------
        pydantic.ValidationError
            When there is no room on any day for the smallest bake of a line.
        """
        free = [self._freed(line).model_dump() for line in self.lines]
        content = {name: getattr(self, name) for name in type(self).model_fields}
        return type(self).model_validate(content | {"lines": free, "capacity": capacity})

    def _freed(self, line: Line) -> Line:
        roomiest = 0.0
        if self.capacity is not None and line.max_batch is not None:
            roomiest = max(self.capacity.pans(day) for day in _allowed(line, self.open_days))
        if 0 < roomiest < inf and line.max_batch == int(roomiest) * line.units_per_pan:
            return line.model_copy(update={"max_batch": None})
        return line

    def line(self, name: str) -> Line:
        """The line called `name`.

        Raises
        ------
        KeyError
            When the store has no such line.
        """
        for line in self.lines:
            if line.name == name:
                return line
        raise KeyError(name)

    @property
    def open_weekdays(self) -> tuple[int, ...]:
        """Open weekdays as numbers, Monday 0 to Sunday 6, ascending."""
        return tuple(index for index, day in enumerate(WEEKDAYS) if day in self.open_days)

    @property
    def assumed(self) -> tuple[str, ...]:
        """Settings that still stand at their default in place of the store's own figures."""
        labour = [
            f"{field} {getattr(self.labour, field):g}"
            for field in Labour.model_fields
            if field not in self.labour.model_fields_set
        ]
        per_line = [
            f"{field} {Line.model_fields[field].default:g}"
            for field in ("units_per_pan", "disposal_cost")
            if not all(field in line.model_fields_set for line in self.lines)
        ]
        return tuple(labour + per_line)
