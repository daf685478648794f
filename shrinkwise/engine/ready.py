"""The loops made ready: compiled the first time, loaded from their cache later on."""

import numpy as np

from shrinkwise.engine.exact import solve
from shrinkwise.engine.perishable import PerishableProblem
from shrinkwise.engine.policy import Days, Policy, Shelf
from shrinkwise.engine.simulate import simulate


def make_ready() -> None:
    """Play and solve the smallest of cases, so that later ones need not wait for the compiler."""
    streams = np.ones((2, 2, 1), np.int16)
    policy = Policy(np.ones((1, 2, 1), np.int16), np.ones(1))
    simulate(streams, policy, Shelf(2), Days(np.arange(2), np.ones(2, np.bool_)))
    solve(
        PerishableProblem(
            demand=[np.array([0.5, 0.5])],
            shelf_life=2,
            picks=0.5,
            max_batch=1,
            unit_cost=0,
            bake_cost=0,
            short_cost=1,
            waste_cost=1,
            hold_cost=0,
        )
    )
