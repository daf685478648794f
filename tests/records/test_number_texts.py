"""Texts of numbers: what is read in which notation, what is proved, and what is asked."""

from decimal import Decimal

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinkwise.records.numbers import (
    Mark,
    MarkEvidence,
    UnsettledMark,
    is_percent,
    mark_evidence,
    number,
    settled_mark,
)

CELL = pl.col("text")


def read(mark: Mark | None, *texts: str | None) -> list[float | None]:
    column = pl.DataFrame({"text": texts}, schema={"text": pl.String})
    values = column.select(number(CELL, mark)).to_series()
    assert values.dtype == pl.Float64
    return values.to_list()


# text with a decimal point, with a decimal comma, value
BOTH: list[tuple[str, str, float]] = [
    ("12.50", "12,50", 12.5),
    ("1,234", "1.234", 1234.0),
    ("1,234.5", "1.234,5", 1234.5),
    ("12,345,678.90", "12.345.678,90", 12345678.9),
    ("1 234.50", "1 234,50", 1234.5),
    ("1\u00a0234.50", "1\u00a0234,50", 1234.5),
    ("1\u202f234\u202f567", "1\u2009234\u2009567", 1234567.0),
    ("1'234.50", "1’234,50", 1234.5),
    ("0.125", "0,125", 0.125),
    ("1234.567", "1234,567", 1234.567),
    (".5", ",5", 0.5),
    ("5.", "5,", 5.0),
    ("-.5", "-,5", -0.5),
    ("$5.00", "5,00 €", 5.0),
    ("£1,234.50", "1.234,50 EUR", 1234.5),
    ("USD 5.00", "EUR5,00", 5.0),
    ("US$5.00", "5,00 kr", 5.0),
    ("$5.00 USD", "kr. 5,00", 5.0),
    ("Fr. 5.00", "5,00 Kč", 5.0),
    ("Fr..50", "kr ,50", 0.5),
    ("CHF 1’234.50", "1 234,50 zł", 1234.5),
    ("-5.00", "-5,00", -5.0),
    ("\u22125.00", "5,00-", -5.0),
    ("-$5.00", "-5,00 €", -5.0),
    ("$-5.00", "€ -5,00", -5.0),
    ("5.00- EUR", "5,00 EUR-", -5.0),
    ("($1,234.50)", "(1.234,50 €)", -1234.5),
    ("$(5.00)", "(5,00)", -5.0),
    ("+5.00", "+5,00", 5.0),
    ("12.5%", "12,5 %", 0.125),
    ("-12.5%", "(12,5%)", -0.125),
    (" 5.00 ", " 5,00\u00a0", 5.0),
]


@pytest.mark.parametrize(("point", "comma", "value"), BOTH)
def test_a_number_is_read_in_its_own_notation(point: str, comma: str, value: float) -> None:
    assert read(".", point) == [value]
    assert read(",", comma) == [value]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        *[("5", 5), ("007", 7), ("1 234", 1234), ("1'234", 1234), ("12 345 678", 12345678)],
        *[("$5", 5), ("5 kr.", 5), ("kr.5", 5), ("5%", 0.05), ("(5)", -5), ("5-", -5), ("- 5", -5)],
    ],
)
def test_digits_without_a_mark_need_no_notation(text: str, value: float) -> None:
    assert read(None, text) == read(".", text) == read(",", text) == [value]


def test_powers_of_ten_are_read_with_a_point_alone() -> None:
    texts = ("1e3", "1E+03", "1.5e-05", "-2E3")
    assert read(".", *texts) == [1000.0, 1000.0, 0.000015, -2000.0]
    assert read(",", *texts) == read(None, *texts) == [None] * 4
    assert read(".", "1e999") == [None]


NO_NUMBERS = """|five|1 2|12 34|1234 567|1 23 456|0 125|--5|-5-|-(5)|(-5)|(5|5)|+-5|((5))|1.2.3
1,2.3|1,23,456|1.234,567.8|1.234.56|1,234.567,8|12'345,678.9.1|inf|nan|-inf|0x10|5 pcs|5 pieces
1_000|½|$|%|-|()|.|,|-.|$ $ 5|5 %%|5% off|5.-|5,-|5.–|e3|1e|2026-03-02|14:35|1/2|5 5|5kg|٥"""


@pytest.mark.parametrize("text", [t for row in NO_NUMBERS.split("\n") for t in row.split("|")])
def test_what_is_no_number_is_null(text: str) -> None:
    assert read(".", text) == read(",", text) == read(None, text) == [None]


def test_the_wrong_mark_never_shifts_a_value() -> None:
    assert read(".", "12,50", "1.234.567", "0,125", "1,2345", ",5") == [None] * 5
    assert read(",", "12.50", "1,234,567", "0.125", "1.2345", ".5") == [None] * 5
    assert read(None, "12.50", "1,234", "5.", ".5", "1.234,5") == [None] * 5
    assert read(".", None) == read(None, None) == [None]


def test_percent_signs_are_told() -> None:
    texts = ["5%", "12,5 %", "(5%)", "-5%", "5", "5% off", "%", "", "5."]
    column = pl.DataFrame({"text": texts})
    assert column.select(is_percent(CELL)).to_series().to_list() == [True] * 4 + [False] * 5


POINT = "12.50|1,234.5|1,234,567|0.125|1234.567|.5|5.|$3.99|(1,234.50)|1 234.567|12.5%|1.2345"
NEITHER = "5|1 234|$5|5 kr.|five|1.2.3|1,2.3|12,34.5|1e3||5.-|0"


def test_a_proof_is_a_text_that_is_a_number_with_one_mark_alone() -> None:
    points = POINT.split("|")
    commas = [text.translate(str.maketrans(".,", ",.")) for text in points]
    assert mark_evidence([*points, points[0]]) == MarkEvidence({".": 12, ",": 0}, (), 0)
    assert mark_evidence([*commas, *commas]) == MarkEvidence({".": 0, ",": 12}, (), 0)
    assert mark_evidence(NEITHER.split("|")) == MarkEvidence({".": 0, ",": 0}, (), 0)
    assert mark_evidence([]) == MarkEvidence({".": 0, ",": 0}, (), 0)


def test_one_mark_before_three_digits_is_open() -> None:
    texts = ["1,234", "1.234", "$12.345", "-123,456", "(1.000)", "1,234"]
    evidence = mark_evidence(iter(texts))
    assert evidence == MarkEvidence({".": 0, ",": 0}, ("1,234", "1.234", "$12.345"), 5)


def evidence_of(points: int, commas: int, n_open: int) -> MarkEvidence:
    return MarkEvidence({".": points, ",": commas}, ("1,234",) * min(n_open, 3), n_open)


@pytest.mark.parametrize(
    ("evidence", "declared", "mark"),
    [
        (evidence_of(0, 0, 0), None, None),
        (evidence_of(4, 0, 9), None, "."),
        (evidence_of(0, 4, 0), None, ","),
        (evidence_of(99, 1, 9), None, "."),
        (evidence_of(1, 99, 0), None, ","),
        # every text can be read in one way only: those of the lesser part are slips
        (evidence_of(7, 2, 0), None, "."),
        (evidence_of(99, 1, 9), ",", ","),
        (evidence_of(0, 0, 9), ".", "."),
    ],
)
def test_the_mark_is_the_declared_one_or_the_proved_one(
    evidence: MarkEvidence, declared: Mark | None, mark: Mark | None
) -> None:
    assert settled_mark(evidence, declared) == mark


@pytest.mark.parametrize(
    "evidence",
    [evidence_of(0, 0, 1), evidence_of(98, 1, 1), evidence_of(5, 5, 1), evidence_of(5, 5, 0)],
)
def test_a_mark_that_is_open_or_contradicted_is_asked_for(evidence: MarkEvidence) -> None:
    with pytest.raises(UnsettledMark) as asked:
        settled_mark(evidence, None)
    assert asked.value.evidence is evidence


SIGNS = ["-{}", "\u2212{}", "{}-", "({})", "-${}", "$-{}", "(${})", "{} EUR-", "(kr {})", "-{}%"]
PLAIN = ["{}", "+{}", "${}", "{} €", "{}\u00a0€", "CHF {}", "{} kr.", "kr.{}", "${} USD", "{} %"]


@st.composite
def written(draw: st.DrawFn) -> tuple[str, Mark, float]:
    """A number in a random notation: the text, its decimal mark and its value."""
    mark: Mark = draw(st.sampled_from([".", ","]))
    whole = draw(st.integers(0, 10**9))
    digits = draw(st.text("0123456789", max_size=4))
    opposite = "," if mark == "." else "."
    group = draw(st.sampled_from(["", opposite, " ", "\u00a0", "\u202f", "\u2009", "'", "’"]))
    body = f"{whole:,}".replace(",", group) + (mark + digits if digits else "")
    negative = draw(st.booleans())
    shape = draw(st.sampled_from(SIGNS if negative else PLAIN))
    value = float(Decimal(f"{whole}.{digits or '0'}")) * (-1 if negative else 1)
    return shape.format(body), mark, value / 100 if "%" in shape else value


@settings(deadline=None, derandomize=True, max_examples=400)
@given(written())
def test_a_number_that_is_written_is_read_back(case: tuple[str, Mark, float]) -> None:
    text, mark, value = case
    assert read(mark, text) == [value]
    # without a notation nothing is guessed
    assert read(None, text)[0] in (value, None)
    # the other mark is never proved by it
    assert mark_evidence([text]).proofs["," if mark == "." else "."] == 0


@settings(deadline=None, derandomize=True)
@given(st.decimals(allow_nan=False, allow_infinity=False, places=3, min_value=-(10**9)))
def test_a_plain_cell_has_the_value_of_a_plain_cast(value: Decimal) -> None:
    text = f"{value:f}"
    assert read(".", text) == [float(text)]
