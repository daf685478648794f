"""Long work, item by item, on all processors, telling how far it is."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from os import cpu_count
from typing import TypeVar

from threadpoolctl import threadpool_limits

Progress = Callable[[], None]
"""Called once for each item that is done."""

Item = TypeVar("Item")
Answer = TypeVar("Answer")


def no_progress() -> None:
    """Tell nobody."""


def on_all_cores(
    answer: Callable[[Item], Answer], items: Iterable[Item], progress: Progress
) -> list[Answer]:
    """`answer` of every item, in the order of the items.

    Threads are enough: the engine and most of numpy let go of the interpreter's lock. Products of
    matrices start none of their own meanwhile, which would only take turns with these.
    """

    def one(item: Item) -> Answer:
        result = answer(item)
        progress()
        return result

    alone = threadpool_limits(limits=1, user_api="blas")
    with alone, ThreadPoolExecutor(cpu_count() or 1) as pool:
        return list(pool.map(one, items))
