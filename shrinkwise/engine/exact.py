"""Exact answers for one perishable line: the best batch for every shelf, and any rule's rates."""

from functools import partial

from shrinkwise.engine.answers import ExactPlan, Rates
from shrinkwise.engine.iteration import SETTLED, iterate_values, settle
from shrinkwise.engine.mixed import MixedLine
from shrinkwise.engine.one_shelf import OneShelfLine
from shrinkwise.engine.perishable import Ints, PerishableProblem
from shrinkwise.engine.pure import PureLine
from shrinkwise.engine.topup import TopUp, best_rule, expected_outdates, top_up_batches


def _line_of(problem: PerishableProblem) -> OneShelfLine | PureLine | MixedLine:
    """The problem with the loops that it needs."""
    if problem.shelf_shape == ():
        return OneShelfLine(problem)
    return MixedLine(problem) if problem.is_mixed else PureLine(problem)


def solve(problem: PerishableProblem, tolerance: float = 1e-7) -> ExactPlan:
    """The optimal batch for every shelf.

    Parameters
    ----------
    problem : PerishableProblem
    tolerance : float
        Error of a day's cost that is allowed [money per day].

    Returns
    -------
    ExactPlan

    Raises
    ------
    RuntimeError
        When the bounds on the answer do not meet, as in `iterate_values`.

    Notes
    -----
    S. Nahmias, Perishable inventory theory: a review, Operations Research 30(4), 1982 (from
    memory): the state is the stock by age. Cycle, batches and cost per bake are added.
    """
    return iterate_values(problem, _line_of(problem).back, tolerance)


def evaluate(problem: PerishableProblem, policy: Ints, tolerance: float = SETTLED) -> Rates:
    """Long-run rates per day of any policy, from an empty shelf on.

    Parameters
    ----------
    problem : PerishableProblem
    policy : array of int, shape (n_days, *shelf_shape)
        Batch by day of the cycle and stock by age, youngest first [units].
    tolerance : float
        Odds still on the move at which the shelf is taken to have come to rest.

    Returns
    -------
    Rates

    Raises
    ------
    ValueError
        When the policy has another shape, or bakes what the problem does not allow.
    RuntimeError
        When the odds of the shelves do not come to rest, as in `settle`.
    """
    line = _line_of(problem)
    on = partial(line.on, line.shelves.inward(policy))
    return settle(problem, on, line.shelves.empty(), tolerance)


def first_days(problem: PerishableProblem, policy: Ints, n_days: int) -> list[Rates]:
    """Expected rates of each of the first days from an empty shelf on; else as `evaluate`."""
    line = _line_of(problem)
    batch, mass, days = line.shelves.inward(policy), line.shelves.empty(), []
    for day in range(n_days):
        mass, rates = line.on(batch, day % problem.n_days, mass)
        days.append(rates)
    return days


def top_up_policy(problem: PerishableProblem, rule: TopUp) -> Ints:
    """The batches of a top-up rule for every shelf, as `evaluate` takes them.

    Raises
    ------
    ValueError
        When the rule does not fit the problem.
    """
    return top_up_batches(problem, rule, expected_outdates(problem, _line_of(problem).back))


def best_top_up(problem: PerishableProblem, ceiling: bool = False, age: bool = False) -> TopUp:
    """The top-up rule of least long-run cost per day that a search finds.

    Parameters
    ----------
    problem : PerishableProblem
        Its discount does not matter: once the start is forgotten, the discounted cost of a rule
        is its cost per day / (1 - discount).
    ceiling, age : bool
        Whether the rule may bound a batch, and whether it makes up for units that go out of date.

    Returns
    -------
    TopUp
    """
    outdates = expected_outdates(problem, _line_of(problem).back)

    def cost(rule: TopUp) -> float:
        return evaluate(problem, top_up_batches(problem, rule, outdates)).cost

    return best_rule(problem, cost, ceiling, age)
