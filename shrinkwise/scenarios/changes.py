"""The `[[changes]]` blocks of a scenario file: which lines they mean, and what becomes of them."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from shrinkwise.demand.factor import LARGEST_FACTOR, DemandFactor
from shrinkwise.errors import ScenarioError
from shrinkwise.profile.line import Days, Line
from shrinkwise.profile.reading import line_number
from shrinkwise.profile.store import Store
from shrinkwise.scenarios.fussy import Fussiness

FIXED_FIELDS = ("name", "category", "shelf_life_study", "also_called", "introduced")
RELATIVE = {"extra_days": "shelf_life_days", "extra_cost": "dough_cost"}
"""Changes that are added to a setting of the line."""

CHANGEABLE = (
    *(name for name in Line.model_fields if name not in FIXED_FIELDS),
    *RELATIVE,
    "demand_factor",
    "demand_factor_sd",
    "fussy_pct",
    "fussy_until_day",
)

Name = Annotated[str, Field(min_length=1)]
FussyPct = Annotated[float, Field(ge=0, le=100)]


class Change(BaseModel):
    """One `[[changes]]` block: the lines that it means, and what changes of them.

    Attributes
    ----------
    line, category, all : str, str, bool
        One line, the lines of a category, or all lines: one of the three.
    extra_days : int
        Days of shelf life more than now [days].
    extra_cost : float
        Dough cost more than now [money per unit].
    demand_factor, demand_factor_sd : float
        What the demand is multiplied by, and the standard deviation of that factor. Where none
        is stated and the price changes, the line's price elasticity says it.
    fussy_pct : float
        Share of the ordinary shoppers who take no unit after `fussy_until_day` [%].
    fussy_until_day : int
        Day on shelf; by default that of the present line's fussy shoppers if the logs tell of
        any, or else its shelf life.

    Any setting of a line stands for its new value.
    """

    model_config = ConfigDict(frozen=True, extra="allow", strict=True)

    line: Name | None = None
    category: Name | None = None
    all: bool = False
    extra_days: Annotated[int, Field(ge=-29, le=29)] | None = None
    extra_cost: Annotated[float, Field(allow_inf_nan=False)] | None = None
    demand_factor: Annotated[float, Field(gt=0, le=LARGEST_FACTOR)] | None = None
    demand_factor_sd: Annotated[float, Field(ge=0, le=2)] | None = None
    fussy_pct: FussyPct | None = None
    fussy_until_day: Days | None = None

    @property
    def fields(self) -> dict[str, Any]:
        """What changes, by name."""
        named = {name: getattr(self, name) for name in CHANGEABLE if hasattr(self, name)}
        return {name: value for name, value in named.items() if value is not None} | (
            self.model_extra or {}
        )


@dataclass(frozen=True)
class Source:
    """Where changes come from, for messages: the name of the file and its content."""

    name: str
    text: str = ""

    def place(self, block: int, setting: str | None = None, table: str = "changes") -> str:
        """'offer.toml, line 7': of a setting of a block, or of the block; the name alone where
        there is no file."""
        number = line_number((table, block, *([setting] if setting else [])), self.text)
        return f"{self.name}, line {number}" if number else self.name


@dataclass
class _Wish:
    """What is asked of one line: settings, each with the block that it stands in."""

    settings: dict[str, tuple[str, Any, int]] = field(default_factory=dict)
    own_block: int | None = None


def changed_lines(
    changes: Iterable[Change], store: Store, source: Source
) -> tuple[dict[str, Line], dict[str, DemandFactor], dict[str, Fussiness]]:
    """The lines that `changes` lead to, the factors of their demand and how many of their shoppers
    are fussy, each by name.

    A change of the shelf life alone moves the day of reduction along, so that it keeps its
    distance to the last day.

    Raises
    ------
    ScenarioError
        When a block means no line, names a setting that no line has, contradicts another block,
        or leads to an impossible line.
    """
    wishes: dict[str, _Wish] = {}
    for block, change in enumerate(changes):
        names = _meant(change, store, source, block)
        for setting in change.fields:
            if setting not in CHANGEABLE:
                where = f"{source.place(block, setting)}, change of {_title(change)}"
                raise ScenarioError(
                    f"{where}: {setting!r} cannot be changed. What can: {', '.join(CHANGEABLE)}."
                )
        for name in names:
            wish = wishes.setdefault(name, _Wish())
            if change.line is not None:
                if wish.own_block is not None:
                    raise ScenarioError(
                        f"{source.place(block)}, change of {name!r}: the line is changed twice, "
                        f"first in {source.place(wish.own_block)}. Put all its changes in one "
                        "block."
                    )
                wish.own_block = block
            _add(wish, change, block, name, source)
    lines = {name: _changed(store.line(name), wish, source) for name, wish in wishes.items()}
    factors = {name: factor for name, wish in wishes.items() if (factor := _factor(wish))}
    fussy = {
        name: one
        for name, wish in wishes.items()
        if (one := _fussy(wish, store.line(name), lines[name], source))
    }
    return lines, factors, fussy


def _title(change: Change) -> str:
    if change.line is not None:
        return repr(change.line)
    return "all lines" if change.all else f"category {change.category!r}"


def _meant(change: Change, store: Store, source: Source, block: int) -> list[str]:
    by = "category" if change.line is None else "line"
    where = f"{source.place(block, by)}, change of {_title(change)}"
    names = [line.name for line in store.lines]
    if (change.line is not None) + (change.category is not None) + change.all != 1:
        raise ScenarioError(
            f"{source.place(block)}: a [[changes]] block must name a line, a category or "
            "all = true, one of the three and no more."
        )
    if change.all:
        return names
    if change.category is not None:
        found = [line.name for line in store.lines if line.category == change.category]
        if not found:
            known = ", ".join(dict.fromkeys(line.category for line in store.lines))
            raise ScenarioError(
                f"{where}: the store has no such category. Its categories are: {known}."
            )
        return found
    if change.line not in names:
        raise ScenarioError(
            f"{where}: the store has no such line. Its lines are: {', '.join(names)}."
        )
    return [change.line]


def _add(wish: _Wish, change: Change, block: int, name: str, source: Source) -> None:
    for setting, value in change.fields.items():
        of = RELATIVE.get(setting, setting)
        other = wish.settings.get(of)
        if other is not None and other[:2] != (setting, value):
            said, was, first = other
            raise ScenarioError(
                f"{source.place(block, setting)}, change of {name!r}: {setting} = {value!r} "
                f"contradicts {said} = {was!r} in {source.place(first, said)}. Keep one of the "
                "two."
            )
        wish.settings[of] = (setting, value, block)


def _factor(wish: _Wish) -> DemandFactor | None:
    """As it is stated, also where that is 1; None where it is not."""
    fields = {"demand_factor": "mean", "demand_factor_sd": "sd"}
    stated = {
        field: float(wish.settings[name][1])
        for name, field in fields.items()
        if name in wish.settings
    }
    return DemandFactor(**stated) if stated else None


def _fussy(wish: _Wish, now: Line, then: Line, source: Source) -> Fussiness | None:
    """As it is stated, also where that is none; None where it is not."""
    said, by_day = (wish.settings.get(name) for name in ("fussy_pct", "fussy_until_day"))
    if said is None and by_day is None:
        return None
    if said is None and by_day is not None:
        raise ScenarioError(
            f"{source.place(by_day[2], by_day[0])}, change of {then.name!r}: fussy_until_day says "
            "how long fussy shoppers take it, but not how many there are. State fussy_pct, too."
        )
    assert said is not None
    pct, day = float(said[1]), None if by_day is None else by_day[1]
    setting, _, block = by_day or said
    where = f"{source.place(block, setting)}, change of {then.name!r}"
    if day is None and pct > 0 and now.shelf_life_days >= then.shelf_life_days:
        raise ScenarioError(
            f"{where}: fussy shoppers take it until day {now.shelf_life_days} on the shelf, as "
            f"long as it is sold now, and it would be sold for "
            f"{then.shelf_life_days}: state an earlier fussy_until_day."
        )
    check_day(day, then, where)
    return Fussiness(pct, day)


def check_day(day: int | None, line: Line, where: str) -> None:
    """Refuse a last day of fussy shoppers after which the line is not sold."""
    if day is not None and day >= line.shelf_life_days:
        raise ScenarioError(
            f"{where}: fussy_until_day must be before the last day on the shelf, which is day "
            f"{line.shelf_life_days}, but was {day}."
        )


def _changed(line: Line, wish: _Wish, source: Source) -> Line:
    fields: dict[str, Any] = {}
    for of, (setting, value, _) in wish.settings.items():
        if of in Line.model_fields:
            # to a hundredth of a cent: binary fractions are no price
            is_more = setting in RELATIVE
            fields[of] = round(getattr(line, of) + value, 4) if is_more else value
    life = fields.get("shelf_life_days", line.shelf_life_days)
    moved = line.with_life(life) if isinstance(life, int) else line
    # the studied lives belong to the line as it is, not to the one that is offered
    settings = moved.model_dump(exclude={"shelf_life_study"}) | fields
    try:
        return Line.model_validate(settings)
    except ValidationError as error:
        fault = error.errors()[0]
        setting = ".".join(str(key) for key in fault["loc"])
        blamed, _, block = next(
            (wish.settings[of] for of in (setting, "shelf_life_days") if of in wish.settings),
            next(iter(wish.settings.values())),
        )
        message = fault["msg"].removeprefix("Value error, ").replace("Input should", "should")
        found = f", but was {fault['input']!r}" if setting else ""
        raise ScenarioError(
            f"{source.place(block, blamed)}, change of {line.name!r}: "
            f"{f'{setting} ' if setting else ''}{message}{found}. Correct the file and run again."
        ) from error
