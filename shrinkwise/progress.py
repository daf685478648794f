"""Long work, item by item, on all processors, telling how far it is."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from os import cpu_count
from typing import TypeVar

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

    Threads are enough: the engine and most of numpy let go of the interpreter's lock.
    """

    def one(item: Item) -> Answer:
        result = answer(item)
        progress()
        return result

    with ThreadPoolExecutor(cpu_count() or 1) as pool:
        return list(pool.map(one, items))
