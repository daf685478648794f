"""Scenario files: what can be asked for, and what is said when it cannot."""

from pathlib import Path

import pytest

from shrinkwise.demand.factor import DemandFactor
from shrinkwise.errors import ScenarioError
from shrinkwise.profile.store import Store
from shrinkwise.records.tables import Records
from shrinkwise.scenarios.fussy import Fussiness
from shrinkwise.scenarios.scenario import parsed_scenario, read_scenario, scenario_text


@pytest.fixture
def store(sample_records: Records) -> Store:
    return sample_records.profile


def written(folder: Path, content: str) -> Path:
    path = folder / "offer.toml"
    path.write_text(content, encoding="utf-8")
    return path


def one_change(line: str, *settings: str) -> str:
    return "\n".join(['name = "An offer"', "[[changes]]", f'line = "{line}"', *settings, ""])


def test_the_samples_own_scenarios(store: Store, sample_folder: Path) -> None:
    longer = read_scenario(sample_folder / "scenarios" / "longer_life_dough.toml", store)
    assert longer.name == "Italian loaf from a four-day dough"
    assert list(longer.lines) == ["Italian loaf"]
    line = longer.lines["Italian loaf"]
    assert (line.shelf_life_days, line.reduce_on_day, line.reduced_price) == (4, 4, 1.75)
    assert line.dough_cost == 1.12
    # what the file does not name stays as it is
    assert line.price == store.line("Italian loaf").price
    cheaper = read_scenario(sample_folder / "scenarios" / "cheaper_dough.toml", store)
    assert cheaper.lines["White loaf"].shelf_life_days == 4


def test_a_longer_life_alone_keeps_the_reduction_before_the_end(
    store: Store, tmp_path: Path
) -> None:
    # Cinnamon rolls: four days, reduced on the third; with five days on the fourth
    path = written(tmp_path, one_change("Cinnamon rolls", "shelf_life_days = 5"))
    line = read_scenario(path, store).lines["Cinnamon rolls"]
    assert (line.shelf_life_days, line.reduce_on_day) == (5, 4)


def test_no_changes_and_many_changes(store: Store, tmp_path: Path) -> None:
    assert read_scenario(written(tmp_path, 'name = "As now"\n'), store).lines == {}
    two = one_change("Bagels", "price = 4.99") + '[[changes]]\nline = "Sub rolls"\nprice = 4.5\n'
    lines = read_scenario(written(tmp_path, two), store).lines
    assert {name: line.price for name, line in lines.items()} == {"Bagels": 4.99, "Sub rolls": 4.5}


def test_a_category_all_lines_and_one_line_in_one_file(store: Store, tmp_path: Path) -> None:
    path = written(
        tmp_path,
        'name = "A dearer bin"\none_off_cost = 40\n[labour]\nwage_per_hour = 28\n'
        "[[changes]]\nall = true\ndisposal_cost = 0.12\n"
        '[[changes]]\ncategory = "breakfast"\nextra_days = 1\nextra_cost = 0.03\n'
        '[[changes]]\nline = "Bagels"\nprice = 4.79\ndemand_factor = 0.95\n',
    )
    offer = read_scenario(path, store)
    assert list(offer.lines) == [line.name for line in store.lines]
    assert {line.disposal_cost for line in offer.lines.values()} == {0.12}
    bagels, was = offer.lines["Bagels"], store.line("Bagels")
    assert (bagels.shelf_life_days, bagels.reduce_on_day) == (4, 4)
    assert (bagels.dough_cost, bagels.price) == (round(was.dough_cost + 0.03, 4), 4.79)
    assert offer.lines["Burger buns"].dough_cost == store.line("Burger buns").dough_cost
    assert offer.factors == {"Bagels": DemandFactor(0.95, 0.0)}
    assert offer.one_off_cost == 40
    # the store's other minutes stay
    assert offer.labour == store.labour.model_copy(update={"wage_per_hour": 28.0})


def test_the_same_setting_said_twice_the_same_way_is_no_contradiction(
    store: Store, tmp_path: Path
) -> None:
    path = written(
        tmp_path,
        one_change("Bagels", "extra_days = 1")
        + '[[changes]]\ncategory = "breakfast"\nextra_days = 1\n',
    )
    assert read_scenario(path, store).lines["Bagels"].shelf_life_days == 4


def test_fussy_shoppers_of_a_line_a_category_and_a_new_line(store: Store) -> None:
    text = one_change("Bagels", "fussy_pct = 25", "fussy_until_day = 2") + (
        '[[changes]]\ncategory = "rolls"\nextra_days = 1\nfussy_pct = 10\n'
    )
    offer = parsed_scenario(text, "offer", store)
    rolls = [line.name for line in store.lines if line.category == "rolls"]
    # without a day it is that of the present line, which weighing finds out
    assert offer.fussy == {"Bagels": Fussiness(25, 2)} | dict.fromkeys(rolls, Fussiness(10))
    # the line is the present one but for its shoppers
    assert offer.lines["Bagels"] == store.line("Bagels").model_copy(update={"shelf_life_study": ()})
    new = parsed_scenario(one_new_line(fussy_pct="30", fussy_until_day="2"), "offer", store)
    assert new.fussiness("Seeded loaf") == Fussiness(30, 2)
    assert new.fussiness("Bagels") is None


def test_labour_as_it_is_is_no_change(store: Store, tmp_path: Path) -> None:
    wage = store.labour.wage_per_hour
    path = written(tmp_path, f'name = "Same"\n[labour]\nwage_per_hour = {wage}\n')
    read = read_scenario(path, store)
    assert (read.lines, read.labour) == ({}, None)


def test_what_is_written_is_read_again(store: Store, tmp_path: Path) -> None:
    name = 'A "longer" life \\ für € 2\n'
    fields = {"shelf_life_days": 4, "dough_cost": 1.4, "price": 4.6}
    text = scenario_text(name, "Bagels", fields, 40)
    path = written(tmp_path, text)
    offer = read_scenario(path, store)
    assert offer == parsed_scenario(text, "the form", store)
    assert (offer.name, offer.one_off_cost) == (name, 40.0)
    bagels = offer.lines["Bagels"]
    assert (bagels.shelf_life_days, bagels.dough_cost, bagels.price) == (4, 1.4, 4.6)


REFUSED = {
    "unknown line": (one_change("Moon cake", "price = 2.0"), ["'Moon cake'", "Burger buns"]),
    "unknown setting": (one_change("Bagels", "colour = 3"), ["'colour'", "dough_cost"]),
    "a line keeps its name": (one_change("Bagels", 'name = "Rings"'), ["'name'", "'Bagels'"]),
    "negative dough cost": (one_change("Bagels", "dough_cost = -0.5"), ["dough_cost", "-0.5"]),
    "life of no day": (one_change("Bagels", "shelf_life_days = 0"), ["shelf_life_days", "was 0"]),
    "life that is not whole": (one_change("Bagels", "shelf_life_days = 2.5"), ["2.5"]),
    "life that is a text": (one_change("Bagels", 'shelf_life_days = "four"'), ["'four'"]),
    "price of nothing": (one_change("Bagels", "price = 0"), ["price"]),
    "reduced above price": (one_change("Bagels", "reduced_price = 9.0"), ["reduced_price"]),
    "filled beyond seven days": (
        one_change("Custard eclairs", "shelf_life_days = 8"),
        ["8 days", "7 days", "'Custard eclairs'"],
    ),
    "changed twice": (
        one_change("Bagels", "price = 4.99") + '[[changes]]\nline = "Bagels"\ndough_cost = 1.2\n',
        ["line 5", "line 2", "'Bagels'", "twice"],
    ),
    "extra days below one": (one_change("Bagels", "extra_days = -3"), ["line 4", "was 0"]),
    "extra days that are not whole": (one_change("Bagels", "extra_days = 1.5"), ["Line 4", "1.5"]),
    "a saving that is more than the dough": (
        one_change("Bagels", "extra_cost = -2.0"),
        ["line 4", "dough_cost", "-0.68"],
    ),
    "extra days of a filled line": (
        one_change("Custard eclairs", "extra_days = 6"),
        ["line 4", "8 days", "7 days"],
    ),
    "all lines, one of them filled": (
        'name = "All"\n[[changes]]\nall = true\nextra_days = 6\n',
        ["line 4", "'Cheese danish'", "7 days"],
    ),
    "a factor of nothing": (one_change("Bagels", "demand_factor = 0"), ["Line 4", "greater than"]),
    "a negative deviation": (one_change("Bagels", "demand_factor_sd = -0.1"), ["Line 4", "-0.1"]),
    "a line and a category": (
        one_change("Bagels", 'category = "rolls"'),
        ["line 2", "one of the three"],
    ),
    "no such category": (
        'name = "All"\n[[changes]]\ncategory = "cakes"\nprice = 3.0\n',
        ["line 3", "'cakes'", "breakfast"],
    ),
    "two lives in one block": (
        one_change("Bagels", "shelf_life_days = 4", "extra_days = 2"),
        ["line 5", "line 4", "extra_days = 2 contradicts shelf_life_days = 4"],
    ),
    "a category against one of its lines": (
        one_change("Bagels", "price = 4.99") + '[[changes]]\ncategory = "breakfast"\nprice = 5.0\n',
        ["line 7", "line 4", "price = 5.0 contradicts price = 4.99"],
    ),
    "more fussy shoppers than all": (
        one_change("Bagels", "extra_days = 1", "fussy_pct = 140"),
        ["Line 5", "fussy_pct", "100", "140"],
    ),
    "fussy until a day that is none": (
        one_change("Bagels", "extra_days = 1", "fussy_pct = 40", "fussy_until_day = 0"),
        ["Line 6", "fussy_until_day", "was 0"],
    ),
    "fussy until the last day": (
        one_change("Bagels", "extra_days = 1", "fussy_pct = 40", "fussy_until_day = 4"),
        ["line 6", "'Bagels'", "last day on the shelf, which is day 4", "was 4"],
    ),
    "a last day of nobody": (
        one_change("Bagels", "extra_days = 1", "fussy_until_day = 2"),
        ["line 5", "'Bagels'", "State fussy_pct, too"],
    ),
    "fussy as long as it is sold now": (
        one_change("Bagels", "fussy_pct = 40"),
        ["line 4", "'Bagels'", "until day 3", "state an earlier fussy_until_day"],
    ),
    "a negative one-off cost": ('name = "An offer"\none_off_cost = -1\n', ["Line 2", "-1"]),
    "a labour setting that is none": (
        'name = "An offer"\n[labour]\nhourly = 30\n',
        ["line 3", "hourly", "wage_per_hour"],
    ),
    "a negative wage": ('name = "An offer"\n[labour]\nwage_per_hour = -3\n', ["line 3", "-3"]),
    "not TOML": ("name = An offer\n", ["TOML"]),
    "no name": ('[[changes]]\nline = "Bagels"\nprice = 4.99\n', ["missing"]),
    "a change without a line": ('name = "An offer"\n[[changes]]\nprice = 4.99\n', ["line"]),
    "a setting of the file that is none": ('name = "An offer"\nprice = 4.99\n', ["price"]),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_is_refused_and_the_file_is_named(
    case: str, store: Store, tmp_path: Path
) -> None:
    content, said = REFUSED[case]
    path = written(tmp_path, content)
    with pytest.raises(ScenarioError) as caught:
        read_scenario(path, store)
    message = str(caught.value)
    assert str(path) in message
    for words in said:
        assert words in message
    # one paragraph: it is printed as it stands
    assert "\n" not in message
    assert message.endswith(".")


def test_a_missing_file_is_named(store: Store, tmp_path: Path) -> None:
    path = tmp_path / "nowhere.toml"
    with pytest.raises(ScenarioError) as caught:
        read_scenario(path, store)
    assert str(path) in str(caught.value)


def test_a_file_that_is_no_text_is_named(store: Store, tmp_path: Path) -> None:
    path = tmp_path / "offer.toml"
    path.write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(ScenarioError, match=r"offer\.toml"):
        read_scenario(path, store)


NEW_LINE = {
    "name": '"Seeded loaf"',
    "category": '"breads"',
    "price": "5.29",
    "dough_cost": "1.38",
    "shelf_life_days": "4",
    "disposal_cost": "0.05",
    "pieces_per_unit": "1",
    "units_per_pan": "6",
    "batch_step": "3",
    "filled": "false",
    "borrows_line": '"Wheat loaf"',
    "demand_factor": "0.5",
    "demand_factor_sd": "0.1",
}


def one_new_line(**other: str | None) -> str:
    """A file with a new line, its block on line 2; None takes a setting out."""
    settings = {name: text for name, text in (NEW_LINE | other).items() if text is not None}
    rows = [f"{name} = {text}" for name, text in settings.items()]
    return "\n".join(['name = "A new line"', "[[new_lines]]", *rows, ""])


def test_a_new_line_borrows_from_a_line_or_a_category(store: Store, tmp_path: Path) -> None:
    text = one_new_line(replaces='"Raisin loaf"')
    offer = read_scenario(written(tmp_path, text), store)
    new = offer.newcomers["Seeded loaf"]
    assert (new.line.price, new.line.shelf_life_days, new.line.batch_step) == (5.29, 4, 3)
    assert (new.lenders, new.replaces) == (("Wheat loaf",), "Raisin loaf")
    assert offer.factor("Seeded loaf") == DemandFactor(0.5, 0.1)
    assert (offer.lines, offer.ending, list(offer.touched)) == (
        {},
        ("Raisin loaf",),
        ["Seeded loaf"],
    )
    text = one_new_line(borrows_line=None, borrows_category='"sweet"')
    lenders = parsed_scenario(text, "offer", store).newcomers["Seeded loaf"].lenders
    assert lenders == tuple(line.name for line in store.lines if line.category == "sweet")


TWO_ENDS = one_new_line(replaces='"Bagels"') + "\n".join(
    one_new_line(name='"Rye loaf"', replaces='"Bagels"').splitlines()[1:]
)
REFUSED_NEW_LINES = {
    "no dough cost": (one_new_line(dough_cost=None), ["Line 2", "'Seeded loaf'", "dough_cost"]),
    "no pans": (one_new_line(units_per_pan=None), ["Line 2", "units_per_pan", "missing"]),
    "no word on a filling": (one_new_line(filled=None), ["Line 2", "filled", "missing"]),
    "no doubt stated": (one_new_line(demand_factor_sd=None), ["Line 2", "demand_factor_sd"]),
    "life of no day": (one_new_line(shelf_life_days="0"), ["Line 7", "shelf_life_days", "0"]),
    "filled beyond seven days": (
        one_new_line(filled="true", shelf_life_days="9"),
        ["9 days", "7 days"],
    ),
    "no lender": (one_new_line(borrows_line=None), ["line 2", "borrows_category"]),
    "two kinds of lender": (one_new_line(borrows_category='"rolls"'), ["line 2", "one of the two"]),
    "unknown lender": (one_new_line(borrows_line='"Moon cake"'), ["line 13", "'Moon cake'"]),
    "unknown category": (
        one_new_line(borrows_line=None, borrows_category='"cakes"'),
        ["line 15", "breakfast"],
    ),
    "a line that is sold already": (one_new_line(name='"Bagels"'), ["line 3", "'Bagels'"]),
    "fussy shoppers without a last day": (
        one_new_line(fussy_pct="30"),
        ["line 16", "'Seeded loaf'", "must be given together"],
    ),
    "a last day of no fussy shoppers": (
        one_new_line(fussy_until_day="2"),
        ["line 16", "'Seeded loaf'", "must be given together"],
    ),
    "fussy until past the last day": (
        one_new_line(fussy_pct="30", fussy_until_day="5"),
        ["line 17", "'Seeded loaf'", "which is day 4, but was 5"],
    ),
    "replaces no line": (one_new_line(replaces='"Moon cake"'), ["line 16", "'Moon cake'"]),
    "replaces a changed line": (
        one_new_line(replaces='"Bagels"') + '[[changes]]\nline = "Bagels"\nprice = 4.0\n',
        ["line 16", "'Bagels'", "changed"],
    ),
    "two lines in place of one": (TWO_ENDS, ["'Rye loaf'", "'Seeded loaf'", "already ends"]),
}


@pytest.mark.parametrize("case", REFUSED_NEW_LINES, ids=str)
def test_a_new_line_that_cannot_be(case: str, store: Store, tmp_path: Path) -> None:
    text, said = REFUSED_NEW_LINES[case]
    with pytest.raises(ScenarioError) as caught:
        read_scenario(written(tmp_path, text), store)
    for words in ("offer.toml", *said):
        assert words in str(caught.value)
