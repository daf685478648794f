"""How long a thing takes on a machine that does other things, too."""

from collections.abc import Callable
from time import perf_counter


def fastest(call: Callable[[], object], rounds: int = 5) -> float:
    """Seconds of the fastest of some rounds: what else the machine did is least in it."""
    seconds = []
    for _ in range(rounds):
        begun = perf_counter()
        call()
        seconds.append(perf_counter() - begun)
    return min(seconds)
