"""What plans made beforehand would have cost in past weeks, against what the store baked."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from shrinkwise.money.week import Money, Quantities
from shrinkwise.profile.store import Store

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Week:
    """A mean week of a line or of all lines, arrays of shape (n_draws,).

    Attributes
    ----------
    quantities : Quantities
    money : Money
        Without the opening of baking days for one line.
    """

    quantities: Quantities
    money: Money


@dataclass(frozen=True)
class PastWeeks:
    """Plans made before past weeks, played on these weeks as they came.

    Attributes
    ----------
    of : Store
    stores, plans : dict of str to Week
        By line, a week of what the store baked, and of what the plans would have baked, for the
        same shoppers.
    opening_store, opening_plan : Money
        What the opening of baking days costs a week.
    left_out : dict of str to str
        Lines of which this cannot be told, each with the reason.
    first, last : datetime.date
    planned_before : tuple of datetime.date
        Days before which a plan was made from the logs until then.
    """

    of: Store
    stores: dict[str, Week]
    plans: dict[str, Week]
    opening_store: Money
    opening_plan: Money
    left_out: dict[str, str]
    first: date
    last: date
    planned_before: tuple[date, ...]

    @property
    def store(self) -> Week:
        """A week of all these lines as the store baked them."""
        return together(list(self.stores.values()))

    @property
    def plan(self) -> Week:
        """A week of all these lines as they were planned."""
        return together(list(self.plans.values()))

    def saving(self, name: str) -> Floats:
        """Loss of the store's batches of a line less that of the plan's, shape (n_draws,)
        [money per week]."""
        return self.stores[name].money.loss - self.plans[name].money.loss

    @property
    def store_saving(self) -> Floats:
        """Of all these lines and of the opening of baking days, shape (n_draws,)
        [money per week]."""
        opening = self.opening_store.loss - self.opening_plan.loss
        return self.store.money.loss - self.plan.money.loss + opening


def together(parts: Sequence[Week]) -> Week:
    """Weeks added up."""
    first, *others = parts
    return Week(
        sum((one.quantities for one in others), first.quantities),
        sum((one.money for one in others), first.money),
    )
