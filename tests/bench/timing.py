"""How long a thing takes on a machine that does other things, too."""

from collections.abc import Callable
from time import process_time


def fastest(call: Callable[[], object], rounds: int = 5) -> float:
    """Seconds of the processors in the fastest of some rounds; what else they do is not in it."""
    seconds = []
    for _ in range(rounds):
        begun = process_time()
        call()
        seconds.append(process_time() - begun)
    return min(seconds)
