"""The loops made ready: compiled the first time, loaded from their cache later on."""

import subprocess
import sys
from functools import cache
from pathlib import Path
from threading import Lock

import numpy as np

from shrinkwise.engine import kernel
from shrinkwise.engine.exact import evaluate, solve
from shrinkwise.engine.kind_odds import SoldDays, kind_odds
from shrinkwise.engine.oldest_odds import oldest_odds
from shrinkwise.engine.perishable import PerishableProblem
from shrinkwise.engine.policy import Days, Policy, Shelf
from shrinkwise.engine.share_filter import Logged, follow
from shrinkwise.engine.simulate import simulate

_ONE_AT_A_TIME = Lock()

_APART = f"from {__name__} import _follow, _solve; _follow(); _solve()"


def make_ready() -> None:
    """Play, follow and solve the smallest of cases, so that later ones need not wait for the
    compiler; who asks while another one makes ready waits until all is."""
    with _ONE_AT_A_TIME:
        _make_ready()


@cache
def _make_ready() -> None:
    if not _is_compiled():
        # a process compiles on one processor only; what another has compiled is loaded below
        no = subprocess.DEVNULL
        with subprocess.Popen([sys.executable, "-c", _APART], stdin=no, stdout=no, stderr=no):
            _play()
    _play()
    _follow()
    _solve()


def _is_compiled() -> bool:
    """Whether the longest loop has been compiled on this machine before."""
    kept_in = kernel.run.stats.cache_path
    return kept_in is None or any(Path(kept_in).glob("kernel.run-*.nbi"))


def _play() -> None:
    streams = np.ones((2, 2, 1), np.int16)
    policy = Policy(np.ones((1, 2, 1), np.int16), np.ones(1))
    simulate(streams, policy, Shelf(2), Days(np.arange(2), np.ones(2, np.bool_)))


def _follow() -> None:
    units, half, chances = np.ones(1, np.int64), np.full(1, 0.5), np.full((1, 3), 0.5)
    logged = Logged(units, units, units, units, units, np.zeros((1, 2), np.int64))
    follow(logged, True, 2, half, chances, 0.1)
    kind_odds(SoldDays(units, units, units, units), units, half, (0.5, 0.0, 0.0), half)
    oldest_odds(units, units, units, half, half, half, 0.5, half)


def _solve() -> None:
    problem = PerishableProblem(
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
    evaluate(problem, solve(problem).batch)
