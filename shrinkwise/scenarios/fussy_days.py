"""Until which day on shelf fussy shoppers take a unit, where a scenario does not state it."""

from dataclasses import replace

from shrinkwise.errors import ScenarioError
from shrinkwise.scenarios.footing import Footing
from shrinkwise.scenarios.scenario import Scenario


def usual_day(name: str, footing: Footing) -> int:
    """Until which day on shelf a line's fussy shoppers are used to take a unit: what the logs tell
    of them, or else the present shelf life."""
    told = footing.futures[name].judge.fussy_until_day
    return footing.store.line(name).shelf_life_days if told is None else told


def with_fussy_days(scenario: Scenario, footing: Footing) -> Scenario:
    """The scenario, with the usual day where it does not state the last day of fussy shoppers.

    Raises
    ------
    ScenarioError
        When it states another day than that after which the logs tell of fussy shoppers.
    """
    known = {name: one for name, one in scenario.fussy.items() if name in footing.futures}
    for name, one in known.items():
        told = footing.futures[name].judge.fussy_until_day
        if one.until_day is None:
            known[name] = replace(one, until_day=usual_day(name, footing))
        elif told not in (None, one.until_day):
            raise ScenarioError(
                f"{scenario.name}: the logs tell of fussy shoppers of {name!r}, who take no unit "
                f"after day {told} on the shelf, but fussy_until_day is {one.until_day}. All fussy "
                f"shoppers of a line have one last day: set it to {told}, or take it out."
            )
    return replace(scenario, fussy=known)
