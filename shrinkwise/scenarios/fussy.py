"""Shoppers who take no unit of an offered line that is older than some day on shelf."""

from dataclasses import dataclass
from zlib import crc32

from shrinkwise.planning.futures import Futures
from shrinkwise.planning.two_sets import Judging
from shrinkwise.profile.line import Line


@dataclass(frozen=True)
class Fussiness:
    """How many of an offered line's shoppers are fussy.

    Attributes
    ----------
    pct : float
        Of the ordinary shoppers; those of whom the logs tell are among them [%].
    until_day : int or None
        Last day on shelf on which they take a unit; None: not stated, see `usual_day`.
    """

    pct: float = 0.0
    until_day: int | None = None

    def bears_on(self, line: Line) -> bool:
        """Whether any unit of the line, as long as it is sold, is too old for them."""
        return self.pct > 0 and self._until < line.shelf_life_days

    def among(self, judging: Judging, line: Line, seed: int) -> Judging:
        """A line's futures, with the fussy shoppers that there are if it is sold like that."""
        if not self.bears_on(line):
            return judging
        return Judging(
            self._drawn(judging.search, line, 2 * seed),
            self._drawn(judging.judge, line, 2 * seed + 1),
        )

    def judge(self, futures: Futures, line: Line, seed: int) -> Futures:
        """Those of `among` on which plans are judged."""
        return self._drawn(futures, line, 2 * seed + 1) if self.bears_on(line) else futures

    @property
    def _until(self) -> int:
        if self.until_day is None:
            raise ValueError("the last day of fussy shoppers is not stated")
        return self.until_day

    def _drawn(self, futures: Futures, line: Line, seed: int) -> Futures:
        drawn = crc32(f"{seed} {line.name} fussy".encode())
        return futures.with_fussy(self.pct / 100, self._until, drawn)
