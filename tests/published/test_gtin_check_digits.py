"""Check digits of published trade item numbers come out.

Sources, by case below: GS1's pages on calculating a check digit by hand (gs1.org, gs1.se); the
GS1 Syntax Dictionary, tests of lint_csum.c, commit ff2eb4b; an encyclopedia's worked example
(secondary); the doctests and tests of python-stdnum, stdnum/ean.py (library). A number of 18
digits is a shipping container's (SSCC): it has the same check digit and is no GTIN.
"""

import pytest

from shrinkwise.records.gtin import check_digit, padded

GS1_PAGE = "GS1, check digit by hand"
GS1_TESTS = "GS1 Syntax Dictionary, lint_csum.c tests, commit ff2eb4b"
ENCYCLOPEDIA = "encyclopedia, worked example"
STDNUM = "python-stdnum, stdnum/ean.py and its tests"

RIGHT = [
    ("6291041500213", "06291041500213", GS1_PAGE),
    ("7300011000017", "07300011000017", GS1_PAGE),
    ("036000241457", "00036000241457", ENCYCLOPEDIA),
    ("02345673", "00000002345673", GS1_TESTS),
    ("416000336108", "00416000336108", GS1_TESTS),
    ("1234567890128", "01234567890128", GS1_TESTS),
    ("12345678901231", "12345678901231", GS1_TESTS),
    ("73513537", "00000073513537", STDNUM),
    ("7501031311309", "07501031311309", STDNUM),
    ("9780471117094", "09780471117094", STDNUM),
    ("98412345678908", "98412345678908", STDNUM),
]
WRONG = [
    ("12345673", GS1_TESTS),
    ("416000336109", GS1_TESTS),
    ("1234567890129", GS1_TESTS),
    ("12345678901232", GS1_TESTS),
    ("7501031311308", STDNUM),
]


@pytest.mark.parametrize(("code", "field", "source"), RIGHT, ids=[c for c, _, _ in RIGHT])
def test_a_published_number_is_taken_in_fourteen_digits(code: str, field: str, source: str) -> None:
    assert check_digit(code[:-1]) == int(code[-1]), source
    assert padded(code) == field, source


@pytest.mark.parametrize(("code", "source"), WRONG, ids=[code for code, _ in WRONG])
def test_a_published_wrong_check_digit_is_refused(code: str, source: str) -> None:
    assert check_digit(code[:-1]) != int(code[-1]), source
    assert padded(code) is None, source


def test_a_shipping_container_has_the_check_digit_and_is_no_trade_item() -> None:
    assert check_digit("12345678901234567") == 5, GS1_TESTS  # and 0 is published as wrong
    assert padded("123456789012345675") is None


@pytest.mark.parametrize(
    "code",
    [
        "75010313113",  # length; published by python-stdnum
        "750103AAAA309",  # format; published by python-stdnum
        "",
        " 2345673",
        "7351353-7",
        "７３５１３５３７",
    ],
)
def test_what_is_no_number_of_a_right_length_is_refused(code: str) -> None:
    assert padded(code) is None


@pytest.mark.parametrize("body", ["", "12a4", "²3"])
def test_a_body_that_is_not_digits_has_no_check_digit(body: str) -> None:
    with pytest.raises(ValueError, match="digits only"):
        check_digit(body)


def test_one_wrong_digit_is_always_seen() -> None:
    # computed: the weights 3 and 1 have no divisor in common with 10
    code = "6291041500213"
    for place, digit in enumerate(code):
        for other in set("0123456789") - {digit}:
            assert padded(code[:place] + other + code[place + 1 :]) is None
