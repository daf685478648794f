"""What is said above and below the pull and pan-up sheet."""

from collections.abc import Iterable

from shrinkwise.planning.day_use import Overrun
from shrinkwise.report.words import money_text
from shrinkwise.tonight.sheet import PanUpSheet

_TAKES = {"oven": "the oven takes", "proofer": "the proofer takes", "racks": "the racks take"}


def sheet_title(sheet: PanUpSheet) -> str:
    """What the sheet is for: 'To pull and pan up for Monday 2026-10-05'."""
    return f"To pull and pan up for {sheet.bake_date:%A} {sheet.bake_date}"


def sheet_notes(sheet: PanUpSheet, currency: str) -> list[str]:
    """That the store is closed until then, that batches were cut to what fits, and where the
    present habit does as well."""
    said = []
    if sheet.closed:
        days = [f"{day:%A} {day}" for day in (sheet.closed[0], sheet.closed[-1])]
        when = f"on {days[0]}" if len(sheet.closed) == 1 else f"from {days[0]} to {days[1]}"
        said.append(
            f"The store is closed {when}: units that go out of date until then are not on hand."
        )
    if sheet.room.overruns:
        wanted = overruns_text(sheet.room.overruns)
        said.append(
            f"Not all that is wanted fits: {wanted}. The batches are cut where that costs least, "
            f"about {money_text(sheet.room.cost, currency)} in all."
        )
    if sheet.as_before:
        said.append(
            f"{', '.join(sheet.as_before)}: the present habit does as well as the plan or better. "
            "Bake as you would, and take the batch above as a second opinion."
        )
    return said


def overruns_text(overruns: Iterable[Overrun]) -> str:
    """What is wanted and what there is of the tightest limits: '140 pans where the oven takes 132
    and 10.7 hours where 10 are staffed'."""
    tightest: dict[str, Overrun] = {}
    for one in overruns:
        tighter = tightest.get(one.limit.unit)
        if tighter is None or one.most < tighter.most:
            tightest[one.limit.unit] = one
    return " and ".join(map(_overrun, tightest.values()))


def _overrun(one: Overrun) -> str:
    if one.limit.unit == "hours":
        return f"{one.wanted:.1f} hours where {one.most:g} are staffed"
    return f"{one.wanted:.0f} pans where {_TAKES[one.limit.name]} {one.most:.0f}"
