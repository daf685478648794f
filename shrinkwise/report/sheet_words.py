"""What is said above and below the pull and pan-up sheet."""

from shrinkwise.report.words import money_text
from shrinkwise.tonight.room import Overrun
from shrinkwise.tonight.sheet import PanUpSheet

_TAKES = {"oven": "the oven takes", "proofer": "the proofer takes", "racks": "the racks take"}


def sheet_title(sheet: PanUpSheet) -> str:
    """What the sheet is for: 'To pull and pan up for Monday 2026-10-05'."""
    return f"To pull and pan up for {sheet.bake_date:%A} {sheet.bake_date}"


def sheet_notes(sheet: PanUpSheet, currency: str) -> list[str]:
    """That batches were cut to what fits, and where the present habit does as well."""
    said = []
    if sheet.room.overruns:
        wanted = " and ".join(_overrun(one) for one in sheet.room.overruns)
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


def _overrun(one: Overrun) -> str:
    if one.limit.unit == "hours":
        return f"{one.wanted:.1f} hours where {one.most:g} are staffed"
    return f"{one.wanted:.0f} pans where {_TAKES[one.limit.name]} {one.most:.0f}"
