"""What the store chose, and what that uses of the limits that its lines share."""

from dataclasses import dataclass

from shrinkwise.planning.assignment import Floats
from shrinkwise.planning.day_use import DayUse
from shrinkwise.profile.capacity import Limit


@dataclass(frozen=True, eq=False)
class LimitUse:
    """A limit and what one more of it would save; arrays by weekday, Monday first.

    Attributes
    ----------
    limit : Limit
    slack : array of float, shape (7,)
        What is left of it, of pans on a busy day and of hours on average; infinite where nothing
        bounds [pans or hours a day].
    worth : array of float, shape (7,)
        Of one more oven load, pan's place or hour on that weekday [money per week].
    """

    limit: Limit
    slack: Floats
    worth: Floats


@dataclass(frozen=True, eq=False)
class StoreChoice:
    """The rules that the store chose, and what they use of what the lines share.

    Attributes
    ----------
    picks : tuple of int
        For each line the position of its rule among its offers; 0 is the line's own choice.
    mean, busy : DayUse
        Of all lines by weekday, shape (7,), with the opening of the day: on average, and on a
        busy day, more than which is used on one day of ten [pans a day], [hours a day].
    limits : tuple of LimitUse
        Those that the store sets.
    cost_of_limits : float
        What the plan could cost less without them [money per week].
    """

    picks: tuple[int, ...]
    mean: DayUse
    busy: DayUse
    limits: tuple[LimitUse, ...] = ()
    cost_of_limits: float = 0.0
