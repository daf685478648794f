"""`store.toml`: the smallest that will do, and what is said of one that will not."""

from datetime import date
from pathlib import Path

import pytest

from shrinkwise.errors import ProfileError
from shrinkwise.profile.line import Line
from shrinkwise.profile.reading import read_store

SMALLEST = """\
name = "Corner store"
currency = "USD"
country = "US"

[[lines]]
name = "Rye loaf"
category = "breads"
price = 4.0
dough_cost = 1.2
shelf_life_days = 3

[[lines]]
name = "Bagels"
category = "rolls"
price = 3.0
dough_cost = 0.9
shelf_life_days = 2
"""

LABOUR = "[labour]\nwage_per_hour = 24.0\n\n[[lines]]"


def written(folder: Path, *changes: tuple[str, str]) -> Path:
    """A folder with the smallest file after some changes, each in its first place."""
    text = SMALLEST
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "store.toml").write_text(text, encoding="utf-8")
    return folder


def complaint(folder: Path, *changes: tuple[str, str]) -> str:
    """What is said of the changed file, which must be named in it."""
    with pytest.raises(ProfileError) as caught:
        read_store(written(folder, *changes))
    message = str(caught.value)
    file = str(folder / "store.toml")
    assert message.startswith(file)
    return message.removeprefix(file)


def test_the_smallest_file_is_a_store_with_defaults(tmp_path: Path) -> None:
    store = read_store(written(tmp_path))
    assert [line.name for line in store.lines] == ["Rye loaf", "Bagels"]
    assert store.week_start == "monday"
    assert store.open_weekdays == (0, 1, 2, 3, 4, 5, 6)
    assert store.line("Bagels").price == 3.0
    rye = store.line("Rye loaf")
    assert (rye.reduce_on_day, rye.reduced_price, rye.disposal_cost) == (None, None, 0.0)
    assert (rye.batch_step, rye.filled, rye.unit_margin) == (1, None, pytest.approx(2.8))
    with pytest.raises(KeyError, match="Baguette"):
        store.line("Baguette")


def test_what_the_store_says_is_kept(tmp_path: Path) -> None:
    store = read_store(
        written(
            tmp_path,
            (
                'country = "US"\n',
                'country = "US"\nstate = "OH"\nweek_start = "sunday"\n'
                'open_days = ["saturday", "monday"]\n\n[columns.sales]\nunits = "Qty sold"\n',
            ),
            ("[[lines]]", LABOUR),
            ("shelf_life_days = 3", "shelf_life_days = 3\nreduce_on_day = 3\nreduced_price = 2.0"),
        )
    )
    assert store.open_weekdays == (0, 5)
    assert (store.state, store.week_start) == ("OH", "sunday")
    assert store.labour.wage_per_hour == 24.0
    assert store.columns == {"sales": {"units": "Qty sold"}}
    assert store.line("Rye loaf").reduced_price == 2.0


def test_what_the_store_says_about_its_exports_is_kept(tmp_path: Path) -> None:
    store = read_store(
        written(
            tmp_path,
            (
                'country = "US"\n',
                'country = "US"\nlargest_file_mb = 250\n\n'
                '[date_order]\nsales = "day-month-year"\nbakes = "month-day-year"\n'
                'events = "year-month-day"\n\n[decimal_mark]\nmarkdowns = ","\nsales = "."\n',
            ),
            (
                'name = "Rye loaf"\n',
                'name = "Rye loaf"\nalso_called = ["0047", " RYE 750 G "]\n'
                "introduced = 2026-03-02\n",
            ),
        )
    )
    assert store.largest_file_mb == 250
    assert store.date_order == {
        "sales": "day-month-year",
        "bakes": "month-day-year",
        "events": "year-month-day",
    }
    assert store.decimal_mark == {"markdowns": ",", "sales": "."}
    rye, bagels = store.lines
    assert rye.also_called == ("0047", "RYE 750 G")
    assert rye.introduced == date(2026, 3, 2)
    assert (bagels.also_called, bagels.introduced) == ((), None)


def test_nothing_is_said_about_exports_until_the_store_says_it(tmp_path: Path) -> None:
    store = read_store(written(tmp_path))
    assert (store.date_order, store.decimal_mark, store.largest_file_mb) == ({}, {}, 500)
    assert [line.also_called for line in store.lines] == [(), ()]
    assert [line.introduced for line in store.lines] == [None, None]


def test_a_name_may_be_said_twice_of_the_same_line(tmp_path: Path) -> None:
    named = ('name = "Rye loaf"\n', 'name = "Rye loaf"\nalso_called = ["Rye loaf", "47", "47"]\n')
    assert read_store(written(tmp_path, named)).line("Rye loaf").also_called[1] == "47"


def test_a_byte_order_mark_of_a_windows_editor_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "store.toml").write_text(SMALLEST, encoding="utf-8-sig")
    assert read_store(tmp_path).name == "Corner store"


FAULTS = {
    "negative price": (
        [("price = 4.0", "price = -4.0")],
        "Line 8, line 'Rye loaf', price: must be greater than 0, but was -4.0.",
    ),
    "the second line's price": (
        [("price = 3.0", "price = 0")],
        "Line 15, line 'Bagels', price: must be greater than 0, but was 0.",
    ),
    "no number": (
        [("price = 4.0", 'price = "four"')],
        "Line 8, line 'Rye loaf', price: must be a valid number, "
        "unable to parse string as a number, but was 'four'.",
    ),
    "not a number": (
        [("price = 4.0", "price = nan")],
        "Line 8, line 'Rye loaf', price: must be a finite number, but was nan.",
    ),
    "part of a day": (
        [("shelf_life_days = 3", "shelf_life_days = 3.5")],
        "Line 10, line 'Rye loaf', shelf_life_days: must be a valid integer, "
        "got a number with a fractional part, but was 3.5.",
    ),
    "no life": (
        [("shelf_life_days = 3", "shelf_life_days = 0")],
        "Line 10, line 'Rye loaf', shelf_life_days: must be greater than or equal to 1, but was 0.",
    ),
    "unknown setting of a line": (
        [("price = 4.0", "price = 4.0\ncolour = 3")],
        "Line 9, line 'Rye loaf', colour: there is no such setting.",
    ),
    "unknown setting of the store": (
        [('country = "US"', 'country = "US"\nprice = 4')],
        "Line 4, price: there is no such setting.",
    ),
    "unknown block": (
        [("[[lines]]", "[labor]\n\n[[lines]]")],
        "Line 5, labor: there is no such setting.",
    ),
    "missing setting of a line": (
        [("price = 4.0\n", "")],
        "Line 5, line 'Rye loaf', price: this setting is missing.",
    ),
    "missing name of a line": (
        [('name = "Rye loaf"\n', "")],
        "Line 5, [[lines]] block 1, name: this setting is missing.",
    ),
    # a line's name further down must not be taken for the store's own
    "missing name of the store": (
        [('name = "Corner store"\n', "")],
        "Name: this setting is missing.",
    ),
    "empty name": (
        [('"Corner store"', '" "')],
        "Line 1, name: must have at least 1 character, but was ' '.",
    ),
    "duplicate name": (
        [('"Bagels"', '"Rye loaf"')],
        "[[lines]] blocks 1 and 2 both have the name 'Rye loaf', "
        "but each line needs a name of its own.",
    ),
    "unknown country": (
        [('"US"', '"QQ"')],
        "Line 3, country: must be a two-letter code with known public holidays, "
        "such as US or DE, but was 'QQ'.",
    ),
    "state of another country": (
        [('country = "US"', 'country = "US"\nstate = "BY"')],
        "but was 'BY'.",
    ),
    "state of a country without states": (
        [('country = "US"', 'country = "LV"\nstate = "RX"')],
        "Line 4, state: must be one of those known for LV (none), but was 'RX'.",
    ),
    "filled line beyond seven days": (
        [("shelf_life_days = 3", "shelf_life_days = 8\nfilled = true")],
        "Line 5, line 'Rye loaf': a shelf life of 8 days is beyond the 7 days, "
        "preparation day counted, to which a filled line is held;",
    ),
    "filling held before the bake day": (
        [
            (
                "shelf_life_days = 3",
                "shelf_life_days = 6\nfilled = true\nfilling_days_before_bake = 2",
            )
        ],
        "Line 5, line 'Rye loaf': a shelf life of 6 days is beyond the 7 days, preparation day "
        "counted, to which a filled line is held (2 of them gone before the bake day);",
    ),
    "filling of a line without one": (
        [
            (
                "shelf_life_days = 3",
                "shelf_life_days = 3\nfilled = false\nfilling_days_before_bake = 2",
            )
        ],
        "Line 5, line 'Rye loaf': filling_days_before_bake is 2, but filled = false says that "
        "there is no filling: take one of them out",
    ),
    # a filling that nobody spoke of counts as one, for the line and for the lives it studies
    "unsaid filling beyond seven days": (
        [("shelf_life_days = 3", "shelf_life_days = 8")],
        "Line 5, line 'Rye loaf': a shelf life of 8 days is beyond the 7 days,",
    ),
    "studied life of an unsaid filling": (
        [("shelf_life_days = 3", "shelf_life_days = 3\nshelf_life_study = [4, 9]")],
        "Line 5, line 'Rye loaf': a shelf life of 9 days is beyond the 7 days,",
    ),
    "studied life of no day": (
        [("shelf_life_days = 3", "shelf_life_days = 3\nshelf_life_study = [4, 0]")],
        "Line 11, line 'Rye loaf', shelf_life_study, item 2: "
        "must be greater than or equal to 1, but was 0.",
    ),
    "reduced price above the price": (
        [("shelf_life_days = 3", "shelf_life_days = 3\nreduce_on_day = 3\nreduced_price = 5.0")],
        "Line 5, line 'Rye loaf': reduced_price must be below the price 4, but was 5.",
    ),
    "reduced after the last day": (
        [("shelf_life_days = 3", "shelf_life_days = 3\nreduce_on_day = 4\nreduced_price = 2.0")],
        "Line 5, line 'Rye loaf': reduce_on_day must be within the shelf life of 3 days, "
        "but was 4.",
    ),
    "reduced to no price": (
        [("shelf_life_days = 3", "shelf_life_days = 3\nreduce_on_day = 3")],
        "Line 5, line 'Rye loaf': reduce_on_day and reduced_price must be given together.",
    ),
    "negative wage": (
        [("[[lines]]", LABOUR), ("24.0", "-24.0")],
        "Line 6, labour, wage_per_hour: must be greater than or equal to 0, but was -24.0.",
    ),
    "minutes timed at no pace": (
        [
            ("[[lines]]", LABOUR),
            ("wage_per_hour = 24.0", "minutes_per_pan = { observed = [2.5], rating = 0 }"),
        ],
        "Line 6, labour, minutes_per_pan: must be minutes, or a table such as { observed = [7.5, "
        '8.2], rating = 0.9, allowance = 0.1, of = "day" }, but rating was 0.',
    ),
    "minutes never timed": (
        [("[[lines]]", LABOUR), ("wage_per_hour = 24.0", "minutes_per_pan = { rating = 1 }")],
        "Line 6, labour, minutes_per_pan: must be minutes, or a table such as { observed = [7.5, "
        '8.2], rating = 0.9, allowance = 0.1, of = "day" }, but observed is missing.',
    ),
    "unknown minutes": (
        [("[[lines]]", LABOUR), ("wage_per_hour", "minutes_per_roll")],
        "Line 6, labour, minutes_per_roll: there is no such setting.",
    ),
    "unknown weekday": (
        [('country = "US"', 'country = "US"\nopen_days = ["monday", "tusday"]')],
        "Line 4, open_days, item 2: must be 'monday', 'tuesday', 'wednesday', 'thursday', "
        "'friday', 'saturday' or 'sunday', but was 'tusday'.",
    ),
    "never open": (
        [('country = "US"', 'country = "US"\nopen_days = []')],
        "Line 4, open_days: must not be empty.",
    ),
    "unknown table": (
        [("[[lines]]", '[columns.tills]\nunits = "Qty"\n\n[[lines]]')],
        "Line 5, columns, tills: must be 'sales', 'markdowns', 'disposals', 'bakes', 'counts' "
        "or 'events', but was 'tills'.",
    ),
    "unknown order of dates": (
        [("[[lines]]", '[date_order]\nsales = "dmy"\n\n[[lines]]')],
        "Line 6, date_order, sales: must be 'year-month-day', 'month-day-year' or "
        "'day-month-year', but was 'dmy'.",
    ),
    "order of dates of an unknown table": (
        [("[[lines]]", '[date_order]\ntills = "day-month-year"\n\n[[lines]]')],
        "Line 5, date_order, tills: must be 'sales', 'markdowns', 'disposals', 'bakes', 'counts' "
        "or 'events', but was 'tills'.",
    ),
    "one order of dates for all": (
        [('country = "US"', 'country = "US"\ndate_order = "day-month-year"')],
        "Line 4, date_order: must be",
    ),
    "unknown decimal mark": (
        [("[[lines]]", '[decimal_mark]\nsales = ";"\n\n[[lines]]')],
        "Line 6, decimal_mark, sales: must be '.' or ',', but was ';'.",
    ),
    "no room for a file": (
        [('country = "US"', 'country = "US"\nlargest_file_mb = 0')],
        "Line 4, largest_file_mb: must be greater than or equal to 1, but was 0.",
    ),
    "room beyond all machines": (
        [('country = "US"', 'country = "US"\nlargest_file_mb = 1000000')],
        "Line 4, largest_file_mb: must be less than or equal to 100000, but was 1000000.",
    ),
    "an empty other name": (
        [('name = "Rye loaf"', 'name = "Rye loaf"\nalso_called = ["47", " "]')],
        "Line 7, line 'Rye loaf', also_called, item 2: must have at least 1 character",
    ),
    "a code that is a number": (
        [('name = "Rye loaf"', 'name = "Rye loaf"\nalso_called = [47]')],
        "Line 7, line 'Rye loaf', also_called, item 1: must be a valid string, but was 47.",
    ),
    "other names that are no list": (
        [('name = "Rye loaf"', 'name = "Rye loaf"\nalso_called = "47"')],
        "Line 7, line 'Rye loaf', also_called: must be",
    ),
    "another line's name": (
        [('name = "Bagels"', 'name = "Bagels"\nalso_called = ["Rye loaf"]')],
        "also_called of 'Bagels' holds 'Rye loaf', which already means 'Rye loaf', "
        "but a name or code can mean one line only.",
    ),
    "another line's code": (
        [
            ('name = "Rye loaf"', 'name = "Rye loaf"\nalso_called = ["47"]'),
            ('name = "Bagels"', 'name = "Bagels"\nalso_called = ["47"]'),
        ],
        "also_called of 'Bagels' holds '47', which already means 'Rye loaf', "
        "but a name or code can mean one line only.",
    ),
    "introduced on no day": (
        [('name = "Rye loaf"', 'name = "Rye loaf"\nintroduced = "spring"')],
        "Line 7, line 'Rye loaf', introduced: must be",
    ),
    "header that is no text": (
        [("[[lines]]", "[columns.sales]\nunits = 5\n\n[[lines]]")],
        "Line 6, columns, sales, units: must be a valid string, but was 5.",
    ),
}


@pytest.mark.parametrize(("changes", "expected"), FAULTS.values(), ids=FAULTS.keys())
def test_a_fault_is_named_with_its_line_setting_value_and_what_was_expected(
    tmp_path: Path, changes: list[tuple[str, str]], expected: str
) -> None:
    message = complaint(tmp_path, *changes)
    assert message.startswith(" cannot be used. ")
    assert expected in message
    assert message.endswith(" Correct the file and run again.")


def test_three_faults_are_told_and_the_rest_are_counted(tmp_path: Path) -> None:
    message = complaint(
        tmp_path,
        ("price = 4.0", "price = -4.0"),
        ("dough_cost = 1.2", "dough_cost = -1.2"),
        ("price = 3.0", "price = -3.0"),
        ("dough_cost = 0.9", "dough_cost = -0.9"),
        ("shelf_life_days = 2", "shelf_life_days = -2"),
    )
    assert "Line 8," in message
    assert "Line 9, line 'Rye loaf', dough_cost:" in message
    assert "Line 15," in message
    assert "Line 16," not in message
    assert " And 2 more like these." in message


def test_a_store_whose_only_line_is_wrong_is_not_told_that_it_has_none(tmp_path: Path) -> None:
    one_line = SMALLEST[SMALLEST.rindex("[[lines]]") :]
    message = complaint(tmp_path, (one_line, ""), ("price = 4.0", "price = 0"))
    assert message == (
        " cannot be used. Line 8, line 'Rye loaf', price: must be greater than 0, but was 0. "
        "Correct the file and run again."
    )


def test_a_store_without_lines_is_told_so(tmp_path: Path) -> None:
    blocks = SMALLEST[SMALLEST.index("[[lines]]") :]
    assert "Lines: this setting is missing." in complaint(tmp_path, (blocks, ""))
    message = complaint(tmp_path, (blocks, "lines = []\n"))
    assert "Line 5, lines: must not be empty." in message


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (("price = 4.0", "price = 4,0"), "line 8"),
        (('"Rye loaf"', "Rye loaf"), "line 6"),
        (("price = 4.0", "price = 4.0\nprice = 5.0"), "line 9"),
    ],
    ids=["decimal comma", "text without quotation marks", "a setting given twice"],
)
def test_what_is_not_toml_is_said_with_its_place(
    tmp_path: Path, change: tuple[str, str], place: str
) -> None:
    message = complaint(tmp_path, change)
    assert message.startswith(" is not valid TOML: ")
    assert f"(at {place}, " in message
    assert "a decimal mark is a point" in message


def test_a_file_in_another_encoding_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / "store.toml").write_bytes(SMALLEST.replace("Corner", "Bäcker").encode("latin-1"))
    with pytest.raises(ProfileError, match=r"store.toml cannot be read .* plain UTF-8 text"):
        read_store(tmp_path)


def test_a_folder_without_the_file_is_told_what_belongs_in_it(tmp_path: Path) -> None:
    with pytest.raises(ProfileError) as caught:
        read_store(tmp_path)
    message = str(caught.value)
    assert message.startswith(f"{tmp_path} has no store.toml.")
    for setting in ("name", "currency", "country", "category", "price", "shelf_life_days"):
        assert setting in message


MINUTES = ("minutes_per_bake", "minutes_per_pan", "minutes_per_unit", "minutes_per_reduced_unit",
           "minutes_per_disposed_unit", "minutes_per_baking_day")  # fmt: skip


def test_what_the_store_sets_is_assumed_no_longer(tmp_path: Path) -> None:
    """Every default that an answer leans on is listed until the store has its own figure."""
    first = read_store(written(tmp_path)).assumed
    named = [entry.split()[0] for entry in first]
    assert named == ["wage_per_hour", *MINUTES, "units_per_pan", "disposal_cost"]

    with_wage = read_store(written(tmp_path, ("[[lines]]", LABOUR))).assumed
    assert with_wage == first[1:]

    # one line's own figure is not enough while another still stands at the default
    half = read_store(written(tmp_path, ("price = 4.0", "price = 4.0\nunits_per_pan = 6"))).assumed
    assert half == first

    minutes = "".join(f"{name} = 1\n" for name in MINUTES)
    own = "\nunits_per_pan = 4\ndisposal_cost = 0.0"
    full = written(
        tmp_path,
        ("[[lines]]", f"[labour]\nwage_per_hour = 25.0\n{minutes}\n[[lines]]"),
        ("price = 4.0", f"price = 4.0{own}"),
        ("price = 3.0", f"price = 3.0{own}"),
    )
    # a figure equal to the default is the store's own once it stands in the file
    assert read_store(full).assumed == ()


def test_the_default_that_is_assumed_is_the_one_that_is_used(tmp_path: Path) -> None:
    store = read_store(written(tmp_path))
    stated = dict(entry.split() for entry in store.assumed)
    for name in ("wage_per_hour", *MINUTES):
        assert float(stated[name]) == getattr(store.labour, name)
    assert float(stated["units_per_pan"]) == store.lines[0].units_per_pan


@pytest.mark.parametrize(
    ("settings", "expected"),
    [
        ({"shelf_life_days": 3}, (2, 3, 4, 5)),
        ({"shelf_life_days": 1}, (1, 2, 3)),
        # held to seven days unless the line is said to have no filling
        ({"shelf_life_days": 6}, (5, 6, 7)),
        ({"shelf_life_days": 6, "filled": False}, (5, 6, 7, 8)),
        ({"shelf_life_days": 4, "filled": True, "filling_days_before_bake": 2}, (3, 4, 5)),
        ({"shelf_life_days": 3, "shelf_life_study": (5, 3, 5)}, (3, 5)),
    ],
)
def test_lives_to_study(settings: dict[str, object], expected: tuple[int, ...]) -> None:
    line = Line(name="Rye", category="breads", price=4, dough_cost=1, **settings)  # type: ignore[arg-type]
    assert line.lives_to_study == expected


def test_another_life_keeps_the_day_of_reduction_at_its_distance_from_the_end() -> None:
    line = Line(name="Rye", category="breads", price=4, dough_cost=1, shelf_life_days=4,
                reduce_on_day=3, reduced_price=2)  # fmt: skip
    assert line.with_life(4) is line
    assert (line.with_life(6).shelf_life_days, line.with_life(6).reduce_on_day) == (6, 5)
    # a line stays reduced as long as that is not from its bake day on
    days = {life: line.with_life(life).reduce_on_day for life in (3, 2, 1)}
    assert days == {3: 2, 2: 2, 1: None}
    assert line.with_life(2).reduced_price == 2
    assert line.with_life(1).reduced_price is None
    always = line.model_copy(update={"reduce_on_day": 1})
    assert [always.with_life(life).reduce_on_day for life in (1, 3, 5)] == [1, 1, 1]
