"""Names and codes under which logs speak of a line: known, guessed, or left aside.

The GTINs are made up of the number ranges that GS1 keeps for use within a store (02, 20 to 29;
GS1 General Specifications, "Restricted Circulation Numbers"), with their check digits computed.
"""

from collections.abc import Callable

import pytest

from shrinkwise.records.findings import Suggestion
from shrinkwise.records.gtin import check_digit
from shrinkwise.records.tables import Records

Gives = Callable[..., Records]
Read = Callable[..., Records]

BODY_13 = "200000000047"
GTIN_13 = f"{BODY_13}{check_digit(BODY_13)}"
BODY_12 = "02000000051"
GTIN_12 = f"{BODY_12}{check_digit(BODY_12)}"
WRONG_13 = f"{BODY_13}{(check_digit(BODY_13) + 1) % 10}"

STORE = f"""\
name = "Corner store"
currency = "EUR"
country = "DE"

[[lines]]
name = "Rye loaf"
also_called = ["0047", "RYE 750 G", "{GTIN_13}"]
category = "breads"
price = 4.0
dough_cost = 1.2
shelf_life_days = 3

[[lines]]
name = "Brötchen"
also_called = ["{GTIN_12}", "Schrippe"]
category = "rolls"
price = 3.0
dough_cost = 0.9
shelf_life_days = 2

[[lines]]
name = "Milk roll"
also_called = ["MILKROLL"]
category = "rolls"
price = 3.0
dough_cost = 0.9
shelf_life_days = 2

[[lines]]
name = "Milk-Roll"
category = "rolls"
price = 3.0
dough_cost = 0.9
shelf_life_days = 2
"""

UNKNOWN = "must be a line of store.toml"
NUMBER = "that a spreadsheet took for a number"
LETTERS = "which differs in capitals, accents or spaces"


def bakes(name: str) -> dict[str, str]:
    return {"bakes.csv": f"date;product;units\n2026-03-02;{name};12\n"}


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("Rye loaf", "Rye loaf"),
        (" Rye loaf ", "Rye loaf"),
        ("0047", "Rye loaf"),
        ("RYE 750 G", "Rye loaf"),
        (GTIN_13, "Rye loaf"),
        (f"0{GTIN_13}", "Rye loaf"),
        (GTIN_12, "Brötchen"),
        (f"0{GTIN_12}", "Brötchen"),
        (f"00{GTIN_12}", "Brötchen"),
        ("Schrippe", "Brötchen"),
        ("Milk roll", "Milk roll"),
        ("Milk-Roll", "Milk-Roll"),
        ("MILKROLL", "Milk roll"),
    ],
)
def test_names_and_codes_that_the_store_knows_are_no_guess(
    gives: Gives, name: str, line: str
) -> None:
    """A GTIN is the same with zeros before it, in a field of 12, 13 or 14 digits."""
    gives(bakes(name), [(2, 1, "2026-03-02", line, 12)], table="bakes", store=STORE)


@pytest.mark.parametrize(
    ("name", "line", "why"),
    [
        ("47", "Rye loaf", f"is read as the code of 'Rye loaf' {NUMBER}"),
        ("47.0", "Rye loaf", f"is read as the code of 'Rye loaf' {NUMBER}"),
        (GTIN_12.lstrip("0"), "Brötchen", f"is read as the code of 'Brötchen' {NUMBER}"),
        (f"{GTIN_13}.0", "Rye loaf", f"is read as the code of 'Rye loaf' {NUMBER}"),
        ("RYE LOAF", "Rye loaf", f"is read as 'Rye loaf', {LETTERS}"),
        ("Rye  loaf", "Rye loaf", f"is read as 'Rye loaf', {LETTERS}"),
        ("Ryeloaf", "Rye loaf", f"is read as 'Rye loaf', {LETTERS}"),
        ("Brotchen", "Brötchen", f"is read as 'Brötchen', {LETTERS}"),
        ("Bro\u0308tchen", "Brötchen", f"is read as 'Brötchen', {LETTERS}"),
        ("schrippe", "Brötchen", f"is read as 'Brötchen', {LETTERS}"),
    ],
)
def test_what_a_spreadsheet_or_a_hand_changed_is_a_guess_to_confirm(
    gives: Gives, name: str, line: str, why: str
) -> None:
    records = gives(
        bakes(name),
        [(2, 1, "2026-03-02", line, 12)],
        [("guess", "bakes.csv", 2, "product", name, why, 1)],
        table="bakes",
        store=STORE,
    )
    (one,) = records.suggestions
    assert (one.section, one.key, one.value) == ("also_called", line, name)


def test_a_guess_that_was_confirmed_is_none_any_more(gives: Gives) -> None:
    store = STORE.replace('"Schrippe"]', '"Schrippe", "Brotchen"]')
    gives(bakes("Brotchen"), [(2, 1, "2026-03-02", "Brötchen", 12)], table="bakes", store=store)


@pytest.mark.parametrize("name", ["MILK ROLL", "milk-roll", "Milk_roll"])
def test_a_text_that_two_lines_would_fit_is_no_guess(gives: Gives, name: str) -> None:
    gives(
        bakes(name),
        [],
        [("set aside", "bakes.csv", 2, "product", name, UNKNOWN, 1)],
        table="bakes",
        store=STORE,
    )


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        (WRONG_13, "has a wrong check digit"),
        (f"0{WRONG_13}", "has a wrong check digit"),
        ("48", UNKNOWN),
        ("2.00E+12", UNKNOWN),
        ("Rye loafs", UNKNOWN),
        ("=Rye loaf", UNKNOWN),
    ],
)
def test_what_means_no_line_is_set_aside(gives: Gives, name: str, rule: str) -> None:
    gives(
        bakes(name),
        [],
        [("set aside", "bakes.csv", 2, "product", name, rule, 1)],
        table="bakes",
        store=STORE,
    )


def test_a_guess_is_one_finding_however_many_rows_it_concerns(read: Read) -> None:
    rows = "".join(f"2026-03-{day:02};47;{day}\n2026-03-{day:02};0047;1\n" for day in range(2, 9))
    records = read({"bakes.csv": f"date;product;units\n{rows}"}, store=STORE)
    assert records.problems.select("severity", "row", "value", "rows").rows() == [
        ("guess", 2, "47", 7)
    ]
    # the code and the code without its zeros are the same line and summed
    assert records.bakes["rows"].to_list() == [2] * 7
    assert [type(one) for one in records.suggestions] == [Suggestion]
