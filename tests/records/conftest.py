"""Small records folders, written by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest

STORE = """\
name = "Corner store"
currency = "USD"
country = "US"

[[lines]]
name = "Rye loaf"
category = "breads"
price = 4.0
dough_cost = 1.2
shelf_life_days = 3
reduce_on_day = 3
reduced_price = 2.0

[[lines]]
name = "Bagels"
category = "rolls"
price = 3.0
dough_cost = 0.9
shelf_life_days = 2
"""

Folder = Callable[..., Path]


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """Writes files given by their names (a text, bytes, or None to take one out) into a folder.

    There are always a store.toml (`block` goes above its lines), sales of one day, and disposals
    of none.
    """

    def write(files: dict[str, str | bytes | None] | None = None, block: str = "") -> Path:
        least: dict[str, str | bytes | None] = {
            "sales.csv": "date,product,units,net_sales\n2026-03-02,Rye loaf,5,20.00\n",
            "disposals.csv": "date,product,units\n",
        }
        store = STORE.replace("\n[[lines]]", f"{block}\n[[lines]]", 1)
        (tmp_path / "store.toml").write_text(store, encoding="utf-8")
        for name, content in (least | (files or {})).items():
            if isinstance(content, bytes):
                (tmp_path / name).write_bytes(content)
            elif content is not None:
                (tmp_path / name).write_text(content, encoding="utf-8")
        return tmp_path

    return write
