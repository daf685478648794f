"""The `[[new_lines]]` blocks of a scenario file: lines that the store has never sold."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, ValidationError

from shrinkwise.demand.factor import LARGEST_FACTOR, DemandFactor
from shrinkwise.errors import ScenarioError
from shrinkwise.profile.line import Days, Line, Money
from shrinkwise.profile.store import Store
from shrinkwise.scenarios.changes import FussyPct, Name, Source, check_day
from shrinkwise.scenarios.fussy import Fussiness


class NewLine(Line):
    """One `[[new_lines]]` block: what `store.toml` says of a line, nothing of it by default, and
    whose demand it borrows.

    Attributes
    ----------
    borrows_line, borrows_category : str
        The line whose demand it borrows, or the category: one of the two. Of a category it is
        the mean of the lines.
    demand_factor, demand_factor_sd : float
        The share of that demand that the new line will have, and the standard deviation of it.
    fussy_pct, fussy_until_day : float, int, optional
        Share of the ordinary shoppers who are fussy [%], and the last day on shelf on which they
        take a unit; both or none.
    replaces : str, optional
        The line that ends when the new one comes.
    """

    disposal_cost: Money
    pieces_per_unit: Annotated[int, Field(ge=1, le=500)]
    units_per_pan: Annotated[int, Field(ge=1, le=500)]
    batch_step: Annotated[int, Field(ge=1, le=500)]
    filled: bool
    borrows_line: Name | None = None
    borrows_category: Name | None = None
    demand_factor: Annotated[float, Field(gt=0, le=LARGEST_FACTOR)]
    demand_factor_sd: Annotated[float, Field(ge=0, le=2)]
    fussy_pct: FussyPct | None = None
    fussy_until_day: Days | None = None
    replaces: Name | None = None


@dataclass(frozen=True)
class Newcomer:
    """A line without a history.

    Attributes
    ----------
    line : Line
    lenders : tuple of str
        Lines whose demand it borrows.
    factor : DemandFactor
        Of the mean demand of the lenders.
    replaces : str or None
        The line that ends when it comes.
    fussy : Fussiness or None
        How many of its shoppers are fussy; None: not stated, and none is.
    """

    line: Line
    lenders: tuple[str, ...]
    factor: DemandFactor
    replaces: str | None = None
    fussy: Fussiness | None = None


def newcomers(
    blocks: Iterable[NewLine], store: Store, changed: Iterable[str], source: Source
) -> dict[str, Newcomer]:
    """The new lines by name.

    Parameters
    ----------
    blocks : iterable of NewLine
    store : Store
    changed : iterable of str
        Lines that the scenario changes: none of them can end.
    source : Source

    Raises
    ------
    ScenarioError
        When a block borrows from no line of the store, replaces none, or does not fit into the
        store.
    """
    found: dict[str, Newcomer] = {}
    ending: dict[str, str] = {}
    for number, block in enumerate(blocks):
        line = _fitted(
            block, [*store.lines, *(one.line for one in found.values())], store, number, source
        )
        lenders = _lenders(block, store, number, source)
        if block.replaces is not None:
            where = _where(block, number, "replaces", source)
            if block.replaces not in {one.name for one in store.lines}:
                raise ScenarioError(f"{where}: {_no_line(block.replaces, store)}")
            if block.replaces in changed:
                raise ScenarioError(
                    f"{where}: {block.replaces!r} is changed in this file and cannot end, too. "
                    "Take one of the two out."
                )
            if block.replaces in ending:
                raise ScenarioError(
                    f"{where}: {block.replaces!r} already ends for {ending[block.replaces]!r}."
                )
            ending[block.replaces] = block.name
        factor = DemandFactor(block.demand_factor, block.demand_factor_sd)
        fussy = _fussy(block, number, source)
        found[line.name] = Newcomer(line, lenders, factor, block.replaces, fussy)
    return found


def _fitted(block: NewLine, beside: list[Line], store: Store, number: int, source: Source) -> Line:
    """The line as the store would hold it, with no bake that there is no room for."""
    line = block.model_dump(include=set(Line.model_fields))
    content = store.model_dump() | {"lines": [*(one.model_dump() for one in beside), line]}
    try:
        return Store.model_validate(content).lines[-1]
    except ValidationError as error:
        fault = error.errors()[0]["msg"].removeprefix("Value error, ")
        raise ScenarioError(f"{_where(block, number, 'name', source)}: {fault}.") from error


def _lenders(block: NewLine, store: Store, number: int, source: Source) -> tuple[str, ...]:
    if (block.borrows_line is None) == (block.borrows_category is None):
        raise ScenarioError(
            f"{_where(block, number, None, source)}: a new line has no sales to learn from. Name "
            "borrows_line or borrows_category, one of the two: whose demand, times demand_factor, "
            "it will have."
        )
    if block.borrows_line is not None:
        if block.borrows_line not in {line.name for line in store.lines}:
            where = _where(block, number, "borrows_line", source)
            raise ScenarioError(f"{where}: {_no_line(block.borrows_line, store)}")
        return (block.borrows_line,)
    lenders = tuple(one.name for one in store.lines if one.category == block.borrows_category)
    if not lenders:
        known = ", ".join(dict.fromkeys(line.category for line in store.lines))
        raise ScenarioError(
            f"{_where(block, number, 'borrows_category', source)}: the store has no such "
            f"category. Its categories are: {known}."
        )
    return lenders


def _fussy(block: NewLine, number: int, source: Source) -> Fussiness | None:
    pct, day = block.fussy_pct, block.fussy_until_day
    if pct is None and day is None:
        return None
    where = _where(block, number, "fussy_until_day" if pct is None else "fussy_pct", source)
    if pct is None or day is None:
        raise ScenarioError(
            f"{where}: of a new line fussy_pct and fussy_until_day must be given together: how "
            "many shoppers are fussy, and on which day on the shelf they take it last."
        )
    check_day(day, block, _where(block, number, "fussy_until_day", source))
    return Fussiness(pct, day)


def _no_line(name: str, store: Store) -> str:
    known = ", ".join(line.name for line in store.lines)
    return f"the store has no line {name!r}. Its lines are: {known}."


def _where(block: NewLine, number: int, setting: str | None, source: Source) -> str:
    return f"{source.place(number, setting, 'new_lines')}, new line {block.name!r}"
