"""Three weeks of a store with two lines, small enough to be worked out on paper."""

from collections.abc import Callable
from pathlib import Path

import pytest

from shrinkwise.records.reading import read_records
from shrinkwise.records.tables import Records

# no figure stands at its default, so that a setting that is not used cannot hide
STORE = """\
name = "Paper store"
currency = "USD"
country = "US"

[labour]
wage_per_hour = 30.0
minutes_per_bake = 10
minutes_per_pan = 3
minutes_per_unit = 0.5
minutes_per_reduced_unit = 0.25
minutes_per_disposed_unit = 1
minutes_per_baking_day = 30

[[lines]]
name = "Rye loaf"
category = "breads"
price = 4.0
dough_cost = 1.0
disposal_cost = 0.1
shelf_life_days = 3
reduce_on_day = 3
reduced_price = 2.0
units_per_pan = 4

[[lines]]
name = "Bagels"
category = "rolls"
price = 3.0
dough_cost = 0.9
shelf_life_days = 2
units_per_pan = 6
"""

# Monday to Sunday, 2026-W38 from 14 September, W39 from the 21st, W40 from the 28th. Days
# without a sale are days on which the store was shut.
TABLES = {
    "sales.csv": """\
date,product,units,net_sales,reduced
2026-09-14,Rye loaf,8,32.00,no
2026-09-15,Bagels,5,15.00,no
2026-09-21,Rye loaf,4,16.00,no
2026-09-21,Bagels,4,12.00,no
2026-09-28,Rye loaf,6,24.00,no
2026-09-28,Bagels,5,15.00,no
2026-09-29,Rye loaf,4,16.00,no
2026-09-29,Bagels,1,3.00,no
2026-09-30,Rye loaf,5,20.00,no
2026-09-30,Bagels,6,18.00,no
2026-10-01,Rye loaf,2,8.00,no
2026-10-01,Bagels,1,3.00,no
2026-10-02,Rye loaf,1,2.00,yes
2026-10-03,Bagels,6,18.00,no
2026-10-04,Rye loaf,6,19.40,no
""",
    "bakes.csv": """\
date,product,units
2026-09-14,Rye loaf,8
2026-09-15,Bagels,5
2026-09-21,Rye loaf,4
2026-09-21,Bagels,6
2026-09-28,Rye loaf,10
2026-09-28,Bagels,8
2026-09-30,Rye loaf,9
2026-09-30,Bagels,7
2026-10-03,Bagels,6
2026-10-04,Rye loaf,6
""",
    "markdowns.csv": """\
date,product,units,unit_price
2026-10-02,Rye loaf,2,2.00
""",
    "disposals.csv": """\
date,product,units,reason
2026-09-22,Bagels,2,donated
2026-09-29,Bagels,1,out of date
2026-09-29,Bagels,1,damaged
2026-10-02,Rye loaf,1,
""",
    "counts.csv": """\
date,product,units
2026-09-30,Rye loaf,4
2026-10-04,Bagels,0
""",
    "events.csv": """\
date,product,kind,unit_price
2026-10-04,Rye loaf,promotion,3.23
""",
}

PaperRecords = Callable[..., Records]


@pytest.fixture
def paper_records(tmp_path: Path) -> PaperRecords:
    """Reads the paper store; `settings` go above its lines, `changed` files replace its own."""

    def read(settings: str = "", changed: dict[str, str] | None = None) -> Records:
        store = STORE.replace("\n[labour]", f"{settings}\n[labour]", 1)
        (tmp_path / "store.toml").write_text(store, encoding="utf-8")
        for name, content in (TABLES | (changed or {})).items():
            (tmp_path / name).write_text(content, encoding="utf-8")
        return read_records(tmp_path)

    return read


@pytest.fixture
def no_reduced_flag() -> dict[str, str]:
    """The sales of a till that does not tell reduced units apart."""
    rows = [row.rsplit(",", 1)[0] for row in TABLES["sales.csv"].splitlines()]
    return {"sales.csv": "\n".join([*rows, ""])}


@pytest.fixture
def until_saturday() -> dict[str, str]:
    """The paper store without its last Sunday, on which units that are left go out of date."""
    sunday = {
        name: "\n".join(row for row in TABLES[name].split("\n") if "2026-10-04" not in row)
        for name in ("sales.csv", "bakes.csv", "counts.csv", "events.csv")
    }
    disposals = TABLES["disposals.csv"] + "2026-10-04,Bagels,1,out of date\n"
    return sunday | {"disposals.csv": disposals}
