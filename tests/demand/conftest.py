"""Small matrices: threads within a product would only wait for each other."""

from collections.abc import Iterator

import pytest
from threadpoolctl import threadpool_limits


@pytest.fixture(autouse=True)
def _one_thread() -> Iterator[None]:
    with threadpool_limits(limits=1, user_api="blas"):
        yield
