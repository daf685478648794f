"""Long work, item by item, on all processors, telling how far it is."""

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from os import cpu_count
from typing import TypeVar

from rich.console import Console
from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bars

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


@contextmanager
def progress_bar() -> Iterator[Bars]:
    """Bars on the terminal, a task each, gone when all is done; nothing where nobody watches."""
    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    errors = Console(stderr=True)
    # where nobody watches, a bar that is wiped away would still leave an empty line
    unseen = not errors.is_terminal
    with Bars(*columns, console=errors, transient=True, disable=unseen) as bars:
        yield bars
