"""A scenario file: the lines that would change, and how."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from shrinkwise.errors import ScenarioError
from shrinkwise.profile.line import Line
from shrinkwise.profile.reading import checked, read_toml
from shrinkwise.profile.store import Store

FIXED_FIELDS = ("name", "category", "shelf_life_study", "also_called", "introduced")
CHANGEABLE = tuple(field for field in Line.model_fields if field not in FIXED_FIELDS)


class Change(BaseModel):
    """One `[[changes]]` block: the line, and its settings that change."""

    model_config = ConfigDict(frozen=True, extra="allow")

    line: str = Field(min_length=1)


class ScenarioFile(BaseModel):
    """The content of a scenario file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str = Field(min_length=1)
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True)
class Scenario:
    """A scenario: its name, and each changed line as it would be, by name."""

    name: str
    lines: dict[str, Line]


def read_scenario(path: str | Path, store: Store) -> Scenario:
    """Read a scenario file against a store.

    A change of `shelf_life_days` alone moves the day of reduction along, so that it keeps its
    distance to the last day.

    Parameters
    ----------
    path : str or pathlib.Path
    store : Store

    Raises
    ------
    ScenarioError
        When the file is unreadable, or a change names no line of the store, names a setting
        that no line has, or leads to an impossible line.
    """
    path = Path(path)
    content = checked(ScenarioFile, read_toml(path, ScenarioError), path, ScenarioError)
    return Scenario(content.name, changed_lines(content.changes, store, str(path)))


def changed_lines(changes: Iterable[Change], store: Store, source: str) -> dict[str, Line]:
    """The lines that `changes` lead to, by name; `source` is named in messages.

    Raises
    ------
    ScenarioError
        As `read_scenario`.
    """
    names = [line.name for line in store.lines]
    lines: dict[str, Line] = {}
    for change in changes:
        where = f"{source}, change of {change.line!r}"
        if change.line not in names:
            raise ScenarioError(
                f"{where}: the store has no such line. Its lines are: {', '.join(names)}."
            )
        if change.line in lines:
            raise ScenarioError(
                f"{where}: the line is changed twice. Put all its changes in one block."
            )
        fields = change.model_extra or {}
        unknown = [field for field in fields if field not in CHANGEABLE]
        if unknown:
            raise ScenarioError(
                f"{where}: {unknown[0]!r} cannot be changed. What can: {', '.join(CHANGEABLE)}."
            )
        lines[change.line] = _changed(store.line(change.line), fields, where)
    return lines


def _changed(line: Line, fields: dict[str, Any], where: str) -> Line:
    life = fields.get("shelf_life_days", line.shelf_life_days)
    moved = line.with_life(life) if isinstance(life, int) else line
    # the studied lives belong to the line as it is, not to the one that is offered
    settings = moved.model_dump(exclude={"shelf_life_study"}) | fields
    try:
        return Line.model_validate(settings)
    except ValidationError as error:
        fault = error.errors()[0]
        setting = ".".join(str(key) for key in fault["loc"])
        message = fault["msg"].removeprefix("Value error, ").replace("Input should", "should")
        found = f", but was {fault['input']!r}" if setting else ""
        raise ScenarioError(
            f"{where}: {f'{setting} ' if setting else ''}{message}{found}. Correct the file and "
            "run again."
        ) from error
