"""One rule for each line under what the lines share, as a mixed-integer programme."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, linprog, milp
from scipy.sparse import csr_array, hstack, vstack

Floats = NDArray[np.float64]
Picks = tuple[int, ...]

PREFERENCE = 1e-3
"""For a line's own choice, where others cost the same: so that nothing turns on rounding
[money per week]."""

ROUNDING = 1e-6
"""Of pans and hours, by which a limit may be overrun."""

OVERRUN_WEIGHT = 1e5
"""Of an overrun by the whole of a limit, against money: none is bought by a saving."""


INFEASIBLE = 2
"""What the solver calls a programme without a solution."""

WIDTH, WIDER = 2.0, 5.0
"""By how much rules that are looked at first may add to the relaxed programme, and how many
times as much where that is too little [money per week]."""


@dataclass(frozen=True, eq=False)
class Assignment:
    """Rules of several lines, what each costs and uses; those of a line stand together.

    Attributes
    ----------
    line : array of int, shape (n_rules,)
        Number of the line that each rule is of, ascending from 0; a line's own choice is its first.
    costs : array of float, shape (n_rules,)
        [money per week]
    bakes : array of bool, shape (n_rules, 7)
        On which weekdays each may bake.
    pans, hours : array of float, shape (n_rules, 7)
        Means by weekday [pans a day], [hours a day].
    opening_cost, opening_hours : float
        Of a baking day, whatever is baked [money per week], [hours a day].
    """

    line: NDArray[np.intp]
    costs: Floats
    bakes: NDArray[np.bool_]
    pans: Floats
    hours: Floats
    opening_cost: float
    opening_hours: float

    def solve(self, pans: Floats, hours: Floats, below: float = inf) -> Picks | None:
        """The rules of least cost within limits, opening of baking days included.

        Parameters
        ----------
        pans, hours : array of float, shape (7,)
            What there is by weekday, infinite without a limit [pans a day], [hours a day].
        below : float
            What is already found: nothing that costs as much is wanted [money per week].

        Returns
        -------
        tuple of int or None
            For each line the position of its rule among all; None where none keep within the
            limits, or none that cost less than `below`.
        """
        return _solved(self._programme(pans, hours, may_overrun=False), below - self._least)

    def nearest(self, pans: Floats, hours: Floats) -> Picks:
        """The rules that overrun the limits by the least share of each, all days together; of
        those, the ones of least cost.

        Parameters
        ----------
        As `solve`.
        """
        found = _solved(self._programme(pans, hours, may_overrun=True), inf)
        if found is None:
            raise AssertionError("rules that may overrun every limit were not found")
        return found

    @property
    def _cheapest(self) -> Floats:
        """Cost of each line's cheapest rule."""
        return np.minimum.reduceat(self.costs, np.flatnonzero(self._own))

    @property
    def _least(self) -> float:
        """What the programme's costs leave out."""
        return float(self._cheapest.sum())

    @property
    def _own(self) -> NDArray[np.bool_]:
        """Which rules are a line's own choice."""
        return np.diff(self.line, prepend=-1) > 0

    def _programme(self, pans: Floats, hours: Floats, may_overrun: bool) -> "_Programme":
        """Variables: a rule is taken, a day is a baking day, a limit is overrun by so much."""
        n, n_lines = len(self.line), int(self.line[-1]) + 1
        of_line = csr_array((np.ones(n), (self.line, np.arange(n))), (n_lines, n))
        opens = [
            hstack([of_line * self.bakes[:, day], csr_array(-np.tile(one_day, (n_lines, 1)))])
            for day, one_day in enumerate(np.eye(7))
        ]
        most = np.concatenate([pans, hours])
        limited = np.isfinite(most)
        size = np.maximum(np.where(limited, most, 1), 1)
        opening = np.vstack([np.zeros((7, 7)), self.opening_hours * np.eye(7)])
        used = np.hstack([np.vstack([self.pans.T, self.hours.T]), opening, -np.diag(size)])
        own_last = self.costs - self._cheapest[self.line] + np.where(self._own, 0, PREFERENCE)
        return _Programme(
            n_rules=n,
            weights=np.concatenate(
                [own_last, np.full(7, self.opening_cost), np.full(14, OVERRUN_WEIGHT)]
            ),
            upper=np.concatenate([np.ones(n + 7), np.full(14, inf if may_overrun else 0.0)]),
            one_each=hstack([of_line, csr_array((n_lines, 21))], "csr"),
            bounded=vstack(
                [hstack([vstack(opens), csr_array((7 * n_lines, 14))]), csr_array(used[limited])],
                "csr",
            ),
            bounds=np.concatenate([np.zeros(7 * n_lines), most[limited] + ROUNDING]),
        )


@dataclass(frozen=True, eq=False)
class _Programme:
    """Minimise weights @ x: one rule for each line, within bounds, x from 0 to upper."""

    n_rules: int
    weights: Floats
    upper: Floats
    one_each: csr_array
    bounded: csr_array
    bounds: Floats

    def relaxed(self) -> tuple[float, Floats] | None:
        """The least there is with parts of rules, and by how much more each rule costs at least
        where it is taken; None where not even parts keep within the bounds."""
        found = linprog(
            self.weights,
            A_ub=self.bounded,
            b_ub=self.bounds,
            A_eq=self.one_each,
            b_eq=np.ones(self.one_each.shape[0]),
            # one rule for each line is bound enough for a rule
            bounds=np.stack(
                [np.zeros_like(self.upper), np.where(self._is_rule, inf, self.upper)], axis=1
            ),
            method="highs",
        )
        if found.status == INFEASIBLE:
            return None
        _must_be_solved(found)
        return float(found.fun), np.where(self._is_rule, found.lower.marginals, -inf)

    def among(self, kept: NDArray[np.bool_]) -> tuple[float, Picks] | None:
        """The least there is with whole rules among those kept; None where there is none."""
        whole = np.arange(len(self.weights)) < self.n_rules + 7
        one_each = self.one_each[:, kept]
        found = milp(
            self.weights[kept],
            integrality=whole[kept],
            bounds=Bounds(0, self.upper[kept]),
            constraints=[
                LinearConstraint(one_each, 1, 1),
                LinearConstraint(self.bounded[:, kept], ub=self.bounds),
            ],
            options={"mip_rel_gap": 0.0},
        )
        if found.status == INFEASIBLE:
            return None
        _must_be_solved(found)
        taken = np.flatnonzero(kept)[found.x > 0.5]
        return float(found.fun), tuple(int(index) for index in taken if index < self.n_rules)

    @property
    def _is_rule(self) -> NDArray[np.bool_]:
        return np.arange(len(self.weights)) < self.n_rules


def _solved(programme: _Programme, below: float) -> Picks | None:
    """The best whole rules that cost less.

    The relaxed programme tells how much each rule adds at least. The whole one is solved among
    rules that add little, until what it finds costs no more than any rule left out would add:
    exact, and far quicker than among all.
    """
    relaxed = programme.relaxed()
    if relaxed is None:
        return None
    least, added = relaxed
    width = below - least + PREFERENCE * programme.n_rules if below < inf else WIDTH
    while width > 0:
        kept = added <= width
        found = programme.among(kept)
        if found is not None and (found[0] <= least + width or kept.all()):
            return found[1]
        if below < inf or kept.all():
            return None
        width = WIDER * width if found is None else found[0] - least
    return None


def _must_be_solved(found: OptimizeResult) -> None:
    if not found.success:
        raise AssertionError(f"the programme was not solved: {found.message}")
