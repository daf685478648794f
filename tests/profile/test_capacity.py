"""The `[capacity]` table: what it allows, and what is said of one that will not do."""

from math import inf
from pathlib import Path

import pytest

from shrinkwise.errors import ProfileError
from shrinkwise.profile.reading import read_store
from shrinkwise.profile.store import Store

STORE = """name = "Corner store"
currency = "USD"
country = "US"
{settings}
[[lines]]
name = "Rye loaf"
category = "breads"
price = 4.0
dough_cost = 1.2
shelf_life_days = 2
units_per_pan = 6
batch_step = 4
{line}
"""


def read(folder: Path, settings: str = "", line: str = "") -> Store:
    text = STORE.format(settings=settings, line=line)
    (folder / "store.toml").write_text(text, encoding="utf-8")
    return read_store(folder)


def test_without_the_table_there_is_no_limit(tmp_path: Path) -> None:
    store = read(tmp_path)
    assert store.capacity is None
    assert store.lines[0].most_batch is None
    assert read(tmp_path, "[capacity]").capacity.limits == ()  # type: ignore[union-attr]


def test_a_number_is_for_every_weekday_and_a_table_for_those_named(tmp_path: Path) -> None:
    store = read(
        tmp_path,
        "[capacity]\noven_loads = 3\npans_per_oven_load = 8\nproofer_pans = 30\n"
        "staffed_hours = { monday = 5.5, sunday = 4 }\n[capacity.rack_slots]\nsaturday = 40",
    )
    assert store.capacity is not None
    found = {
        limit.name: (limit.unit, limit.most, limit.one_more) for limit in store.capacity.limits
    }
    assert found == {
        "oven": ("pans", (24,) * 7, 8),
        "proofer": ("pans", (30,) * 7, 1),
        "racks": ("pans", (*[inf] * 5, 40, inf), 1),
        "shift": ("hours", (5.5, *[inf] * 5, 4), 1),
    }
    assert store.capacity.pans(5) == 24
    assert Store.model_validate(store.model_dump(mode="json")) == store


@pytest.mark.parametrize(
    ("settings", "line", "most"),
    [
        ("rack_slots = 5", "", 28),
        ("rack_slots = { monday = 5, tuesday = 3, wednesday = 1, thursday = 1 }", "", None),
        (
            "rack_slots = { monday = 2, tuesday = 3, wednesday = 1, thursday = 1 }",
            'no_bake_days = ["friday", "saturday", "sunday"]',
            16,
        ),
        ("rack_slots = 5", "max_batch = 20", 20),
        ("rack_slots = 90000", "", None),
    ],
)
def test_no_bake_is_larger_than_the_roomiest_day(
    tmp_path: Path, settings: str, line: str, most: int | None
) -> None:
    """In whole steps of 4 units: 5 pans of 6 hold 28 of them, 3 pans 16."""
    store = read(tmp_path, f"[capacity]\n{settings}", line)
    assert store.lines[0].most_batch == most


def test_a_day_without_room_for_the_smallest_bake_is_no_bake_day(tmp_path: Path) -> None:
    store = read(
        tmp_path,
        "[capacity]\nrack_slots = { monday = 1, tuesday = 2 }\nstaffed_hours = { sunday = 0 }",
        "min_batch = 8",
    )
    assert store.bake_weekdays(store.lines[0]) == (1, 2, 3, 4, 5)


FAULTS = {
    "capacity: oven_loads and pans_per_oven_load must be given together, but only oven_loads was": (
        "oven_loads = 4"
    ),
    "but only pans_per_oven_load was": "pans_per_oven_load = 4",
    "capacity, rack_slots: must be a whole number, or a table of them, but was 2.5": (
        "rack_slots = 2.5"
    ),
    "capacity, rack_slots: must be a number for every weekday, or a table such as": (
        "rack_slots = true"
    ),
    "each 0 or more, but was -1": "staffed_hours = -1",
    "capacity, rack_slots, satuday: must be 'monday', 'tuesday'": "rack_slots = { satuday = 4 }",
    "capacity, rack_slots, sunday: must be greater than or equal to 0, but was -4": (
        "rack_slots = { sunday = -4 }"
    ),
    "capacity, proofer_pans: must not be empty": "proofer_pans = {}",
    "capacity, ovens: there is no such setting": "ovens = 2",
    "capacity has no room on any day for the smallest bake of 'Rye loaf' (4 units, 6 a pan)": (
        "rack_slots = 0"
    ),
}


@pytest.mark.parametrize(("words", "settings"), FAULTS.items())
def test_a_fault_is_named_with_its_setting(tmp_path: Path, words: str, settings: str) -> None:
    with pytest.raises(ProfileError) as error:
        read(tmp_path, f"[capacity]\n{settings}")
    assert words in str(error.value)
