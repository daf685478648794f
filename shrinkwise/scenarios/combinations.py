"""What a switch brings when several assumptions are at the ends of their ranges together."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from shrinkwise.scenarios.pool import Pool
from shrinkwise.scenarios.terms import Terms

Floats = NDArray[np.float64]
Ends = tuple[float, float]


@dataclass(frozen=True)
class Combination:
    """Assumptions, each at one end of its range.

    Attributes
    ----------
    at : dict of str to float
        The end, by assumption.
    brings : float
        What the switch brings there, the one-off cost spread over a year [money per week].
    """

    at: dict[str, float]
    brings: float


@dataclass(frozen=True)
class Combinations:
    """Every combination of the ends.

    Attributes
    ----------
    ranges : dict of str to (float, float)
        Ends by assumption, in the order of the axes of `brings`.
    brings : array of float, shape (2, 2, ...)
        What the switch brings with each assumption at its low or at its high end [money per week].
    """

    ranges: dict[str, Ends]
    brings: Floats

    def __iter__(self) -> Iterator[Combination]:
        return (self._at(place) for place in np.ndindex(self.brings.shape))

    def __len__(self) -> int:
        return int(self.brings.size)

    @property
    def paying(self) -> int:
        """In how many of them the switch pays."""
        return int((self.brings > 0).sum())

    @property
    def worst(self) -> Combination:
        """That in which it brings least."""
        return self._at(np.unravel_index(self.brings.argmin(), self.brings.shape))

    @property
    def best(self) -> Combination:
        """That in which it brings most."""
        return self._at(np.unravel_index(self.brings.argmax(), self.brings.shape))

    @property
    def own_pct(self) -> dict[str, float]:
        """What each assumption does by itself, whatever the others are [% of the variance over all
        combinations]; what is left to 100 is what they do together. 0 where nothing moves.

        The main effects of a two-level factorial design, as first-order indices of the variance
        (I. M. Sobol, Mathematics and Computers in Simulation 55, 2001, from memory).
        """
        total = float(self.brings.var())
        found = {}
        for axis, name in enumerate(self.ranges):
            others = tuple(one for one in range(self.brings.ndim) if one != axis)
            found[name] = 100 * float(self.brings.mean(axis=others).var()) / total if total else 0.0
        return found

    def _at(self, place: tuple[np.intp | int, ...]) -> Combination:
        ends = zip(self.ranges.items(), place, strict=True)
        at = {name: float(of[int(end)]) for (name, of), end in ends}
        return Combination(at, float(self.brings[tuple(place)]))


def combinations(pool: Pool, ranges: Mapping[str, Ends]) -> Combinations:
    """What the switch brings in every combination, under the best of the plans that were found.

    Parameters
    ----------
    pool : Pool
    ranges : mapping of str to (float, float)
        Ends of terms, by name.
    """
    named = dict(ranges)
    brings = [
        pool.best(Terms(**dict(zip(named, ends, strict=True)))).mean()  # type: ignore[arg-type]
        for ends in product(*named.values())
    ]
    return Combinations(named, np.reshape(brings, (2,) * len(named)))
