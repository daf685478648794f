"""The store as `store.toml` describes it."""

from typing import Annotated, Literal, Self

import holidays
from pydantic import BaseModel, ConfigDict, Field, model_validator

from shrinkwise.profile.line import Line, Money

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
WEEKDAYS: tuple[Weekday, ...] = (
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
)
TableName = Literal["sales", "markdowns", "disposals", "bakes", "counts", "events"]

Minutes = Annotated[float, Field(ge=0, le=1440, allow_inf_nan=False)]


class Labour(BaseModel):
    """What an hour costs and where the minutes go.

    The defaults are assumptions until the store sets its own (common practice, no source).
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    wage_per_hour: Money = Field(default=25.0, description="[money per hour], on-cost included")
    minutes_per_bake: Minutes = Field(
        default=8.0, description="set-up of one line on one day [min]"
    )
    minutes_per_pan: Minutes = Field(
        default=2.0, description="panning, loading, unloading a pan [min]"
    )
    minutes_per_unit: Minutes = Field(default=0.4, description="bagging and dating a unit [min]")
    minutes_per_reduced_unit: Minutes = Field(default=0.3, description="relabelling a unit [min]")
    minutes_per_disposed_unit: Minutes = Field(
        default=0.3, description="taking off and logging [min]"
    )
    minutes_per_baking_day: Minutes = Field(default=30.0, description="opening and cleaning [min]")


class Store(BaseModel):
    """A store: its calendar, its labour and its lines."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    name: str = Field(min_length=1)
    currency: str = Field(min_length=1, max_length=8)
    country: str = Field(min_length=2, max_length=3)
    state: str | None = None
    week_start: Weekday = "monday"
    open_days: tuple[Weekday, ...] = Field(default=WEEKDAYS, min_length=1)
    labour: Labour = Labour()
    columns: dict[TableName, dict[str, str]] = Field(default_factory=dict)
    lines: tuple[Line, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _lines_are_told_apart(self) -> Self:
        seen: set[str] = set()
        for line in self.lines:
            if line.name in seen:
                raise ValueError(f"two [[lines]] blocks have the name {line.name!r}")
            seen.add(line.name)
        return self

    @model_validator(mode="after")
    def _calendar_is_known(self) -> Self:
        supported = holidays.list_supported_countries()
        if self.country not in supported:
            raise ValueError(
                f"country must be a two-letter code with known public holidays, such as US or DE, "
                f"but was {self.country!r}"
            )
        if self.state is not None and self.state not in supported[self.country]:
            known = ", ".join(supported[self.country]) or "none"
            raise ValueError(
                f"state must be one of those known for {self.country} ({known}), "
                f"but was {self.state!r}"
            )
        return self

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
