"""A scenario file: the lines that would change, and how."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.errors import ScenarioError
from shrinkwise.profile.capacity import Capacity
from shrinkwise.profile.line import Line, Money
from shrinkwise.profile.reading import checked, line_number, parsed_toml, read_text
from shrinkwise.profile.store import Labour, Store
from shrinkwise.scenarios.changes import Change, Source, changed_lines
from shrinkwise.scenarios.fussy import Fussiness
from shrinkwise.scenarios.new_line import Newcomer, NewLine, newcomers


class ScenarioFile(BaseModel):
    """The content of a scenario file.

    Attributes
    ----------
    name : str
    one_off_cost : float
        Labels, training, running out of the old dough: what the switch costs once [money].
    trial_cost : float, optional
        What four weeks of trial in the store would cost beside the dough [money].
    labour : dict of str to float
        Labour settings of `store.toml` that change with it, such as wage_per_hour.
    capacity : Capacity, optional
        What lines would share: the settings of `store.toml`, those of the file in their place.
    changes : tuple of Change
    new_lines : tuple of NewLine
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str = Field(min_length=1)
    one_off_cost: Annotated[Money, Field(le=1e9)] = 0.0
    trial_cost: Annotated[Money, Field(le=1e9)] | None = None
    labour: dict[str, float] = Field(default_factory=dict)
    capacity: Capacity | None = None
    changes: tuple[Change, ...] = ()
    new_lines: tuple[NewLine, ...] = ()


@dataclass(frozen=True)
class Scenario:
    """A scenario.

    Attributes
    ----------
    name : str
    lines : dict of str to Line
        Each changed line as it would be, by name.
    factors : dict of str to DemandFactor
        What the demand of changed lines is multiplied by, where it changes.
    fussy : dict of str to Fussiness
        How many shoppers of changed lines are fussy, where it is stated.
    labour : Labour or None
        The labour that there would be; None: as now.
    one_off_cost : float
        [money]
    newcomers : dict of str to Newcomer
        Lines that the store has never sold, by name.
    trial_cost : float or None
        What a trial would cost [money]; None: not stated.
    capacity : Capacity or None
        What the lines would share; None: as now.
    """

    name: str
    lines: dict[str, Line]
    factors: dict[str, DemandFactor] = field(default_factory=dict)
    fussy: dict[str, Fussiness] = field(default_factory=dict)
    labour: Labour | None = None
    one_off_cost: float = 0.0
    newcomers: dict[str, Newcomer] = field(default_factory=dict)
    trial_cost: float | None = None
    capacity: Capacity | None = None

    @property
    def touched(self) -> dict[str, Line]:
        """The changed lines and the new ones, by name."""
        return self.lines | {name: one.line for name, one in self.newcomers.items()}

    @property
    def ending(self) -> tuple[str, ...]:
        """Lines that end for a new one."""
        replaced = (one.replaces for one in self.newcomers.values())
        return tuple(name for name in replaced if name is not None)

    def factor(self, name: str) -> DemandFactor | None:
        """Of a line's demand, or of those that a new line borrows from; None: as it is."""
        new = self.newcomers.get(name)
        return self.factors.get(name) if new is None else new.factor

    def fussiness(self, name: str) -> Fussiness | None:
        """Of a line's shoppers; None: not stated."""
        new = self.newcomers.get(name)
        return self.fussy.get(name) if new is None else new.fussy

    @property
    def touches_all(self) -> bool:
        """Whether it changes what all lines are planned under."""
        return self.labour is not None or self.capacity is not None

    def store(self, store: Store) -> Store:
        """The store with the scenario's labour and capacity, its lines as they are."""
        held = store if self.capacity is None else store.with_capacity(self.capacity)
        return held if self.labour is None else held.model_copy(update={"labour": self.labour})


def read_scenario(path: str | Path, store: Store) -> Scenario:
    """Read a scenario file against a store.

    Parameters
    ----------
    path : str or pathlib.Path
    store : Store

    Raises
    ------
    ScenarioError
        When the file is unreadable, or a change names no line of the store, names a setting
        that no line has, contradicts another, or leads to an impossible line.
    """
    return parsed_scenario(read_text(Path(path), ScenarioError), str(path), store)


def parsed_scenario(text: str, source: str, store: Store) -> Scenario:
    """A scenario from the text of its file; `source` is named in messages, else `read_scenario`."""
    toml = parsed_toml(text, source, ScenarioError)
    if isinstance(limits := toml.get("capacity"), dict) and store.capacity is not None:
        toml["capacity"] = store.capacity.model_dump(exclude_none=True) | limits
    content = checked(ScenarioFile, toml, source, ScenarioError, text)
    named = Source(source, text)
    capacity = None if content.capacity == store.capacity else content.capacity
    labour = _labour(content.labour, store, named)
    if capacity is not None:
        store = _held(store, capacity, named)
    lines, factors, fussy = changed_lines(content.changes, store, named)
    return Scenario(
        name=content.name,
        lines=lines,
        factors=factors,
        fussy=fussy,
        labour=labour,
        one_off_cost=content.one_off_cost,
        newcomers=newcomers(content.new_lines, store, lines, named),
        trial_cost=content.trial_cost,
        capacity=capacity,
    )


def scenario_text(name: str, line: str, fields: Mapping[str, float], one_off_cost: float) -> str:
    """The file of a scenario that changes one line.

    Parameters
    ----------
    name : str
    line : str
    fields : mapping of str to float
        Settings of the line, or changes of them, by name.
    one_off_cost : float
        [money]
    """
    # strings and numbers of JSON are strings and numbers of TOML
    head = f"name = {json.dumps(name)}\none_off_cost = {json.dumps(float(one_off_cost))}\n"
    rows = [f"{field} = {json.dumps(value)}" for field, value in fields.items()]
    return "\n".join([head, "[[changes]]", f"line = {json.dumps(line)}", *rows, ""])


def _held(store: Store, capacity: Capacity, source: Source) -> Store:
    try:
        return store.with_capacity(capacity)
    except ValidationError as error:
        fault = error.errors()[0]["msg"].removeprefix("Value error, ")
        number = line_number(("capacity",), source.text)
        raise ScenarioError(f"{source.name}, line {number}: {fault}.") from error


def _labour(changed: dict[str, float], store: Store, source: Source) -> Labour | None:
    if not changed:
        return None
    try:
        labour = Labour.model_validate(store.labour.model_dump() | changed)
    except ValidationError as error:
        fault = error.errors()[0]
        setting = str(fault["loc"][0])
        number = line_number(("labour", setting), source.text)
        if setting not in Labour.model_fields:
            message = f"there is no such setting. What there is: {', '.join(Labour.model_fields)}"
        else:
            message = fault["msg"].replace("Input should", "must")
            message += f", but was {fault['input']!r}"
        raise ScenarioError(
            f"{source.name}, line {number}, labour, {setting}: {message}."
        ) from error
    return None if labour == store.labour else labour
