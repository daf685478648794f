"""Texts of dates and times of day: what is read, what is proved, and what is asked."""

from collections.abc import Sequence
from datetime import date, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinkwise.records.dates import (
    DAY_FIRST,
    MONTH_FIRST,
    YEAR_FIRST,
    Order,
    OrderEvidence,
    UnsettledOrder,
    day_text,
    has_time,
    hour_of,
    order_evidence,
    read_date,
    read_dates,
    settled_order,
)

SECOND_OF_MARCH = date(2026, 3, 2)

FIXED = """
2026-03-02|2026-3-2|2026/03/02|2026.03.02|2026 03 02|2026. 03. 02|20260302|26-3-2
46083|46083.0|46083.604|46083,5
2 March 2026|2nd March 2026|2 of March 2026|March 2, 2026|March 2,2026|Mar 2 2026|MAR. 2, 2026
mar 2 2026|02-Mar-26|2 Mar 26|02MAR2026|02/Mar/2026|Mar-02-2026|2026-Mar-02|2026 March 2
2. März 2026|2.März 2026|2. Maerz 2026|2. Mrz. 2026|2. Mär 26
2 mars 2026|2 MARS 2026|2-mars-26
2 de marzo de 2026|2 de marzo del 2026|2 marzo 2026|2 mar. 2026
Mon 2 March 2026|Monday, March 2, 2026|lundi 2 mars 2026|lun. 2 mars 2026|lundi, le 2 mars 2026
Montag, den 2. März 2026|Mo 2. März 2026|lunes 2 de marzo de 2026|lunes, 02-mar-26
Mon 2026-03-02| 2026-03-02 |2\u00a0mars\u202f2026|2  March   2026
"""
BY_MONTH = [
    ("January Jan januar Jänner jaenner janvier janv. enero ene", 1),
    ("February feb Februar Feber février févr. fevrier febrero", 2),
    ("march mar märz mrz mars marzo", 3),
    ("April apr avril avr. abril abr", 4),
    ("May mai mayo", 5),
    ("June jun Juni juin junio", 6),
    ("July jul Juli juillet juil. julio", 7),
    ("August aug août aout agosto ago", 8),
    ("September sep Sept. septembre septiembre setiembre", 9),
    ("October oct Oktober okt octobre octubre", 10),
    ("November nov. novembre noviembre", 11),
    ("December dec Dezember dez décembre déc. diciembre dic", 12),
]
READINGS: dict[Order, str] = {
    YEAR_FIRST: "26-03-02",
    MONTH_FIRST: "03/02/2026|3/2/2026|03-02-2026|03.02.2026|03 02 2026|3/2/26|03-02-26|3.2.26|"
    "03 02 26|Mon 03/02/2026|Monday, 3/2/26",
    DAY_FIRST: "02/03/2026|2/3/2026|02-03-2026|02.03.2026|2. 3. 2026|02 03 2026|2/3/26|02-03-26|"
    "2.3.26|02 03 26|Mo., 02.03.2026|Mo 2.3.26|lundi 02/03/2026|lu 02/03/26",
}


def the(texts: str) -> list[str]:
    return [text for row in texts.strip("\n").split("\n") for text in row.split("|")]


@pytest.mark.parametrize("text", the(FIXED))
@pytest.mark.parametrize("order", [None, MONTH_FIRST, DAY_FIRST])
def test_a_text_of_one_reading_is_read_whatever_the_order(text: str, order: Order | None) -> None:
    assert read_date(text, order) == SECOND_OF_MARCH
    assert order_evidence([text]) == OrderEvidence(dict.fromkeys(READINGS, 0), (), 0)


@pytest.mark.parametrize(("names", "month"), BY_MONTH)
def test_every_month_is_known_in_four_languages(names: str, month: int) -> None:
    for name in names.split():
        for text in (f"7 {name} 2026", f"{name} 7, 2026", f"07-{name.upper()}-26"):
            assert read_date(text, None) == date(2026, month, 7), text


@pytest.mark.parametrize(
    ("order", "text"), [(order, text) for order, texts in READINGS.items() for text in the(texts)]
)
def test_numbers_are_read_in_the_order_that_is_given(order: Order, text: str) -> None:
    assert read_date(text, order) == SECOND_OF_MARCH


NO_DATES = """
|x|9|12:30|2026|2026-03|260302|2026-02-30|30 February 2026|31.04.2026|29/02/2026|00/03/2026
02/03-2026|123/2/2026|2/3/123|02,03,2026|2026-13-01|20261301|0000-01-01|99999|36525|73051|46083.
2 jui 2026|2 ma 2026|2 xyz 2026|2 march|march 2026|Xyz 02/03/2026|2/3/6|1.234.567
"""


@pytest.mark.parametrize("text", the(NO_DATES))
def test_what_is_no_date_is_not_read(text: str) -> None:
    assert [read_date(text, order) for order in (None, *READINGS)] == [None] * 4
    assert sum(order_evidence([text]).proofs.values()) == order_evidence([text]).n_open == 0


def test_without_an_order_only_a_text_of_one_possible_reading_is_read() -> None:
    texts = ["02/03/2026", "13/02/2026", "02/13/2026", "05/05/2026", "02-03-26", "Mo 02/03/2026"]
    days = [None, date(2026, 2, 13), date(2026, 2, 13), date(2026, 5, 5), None, SECOND_OF_MARCH]
    assert read_dates(texts, None) == dict(zip(texts, days, strict=True))


def test_a_text_that_contradicts_the_order_is_not_read_in_another() -> None:
    assert read_date("02/13/2026", DAY_FIRST) is None
    assert read_date("13/02/2026", MONTH_FIRST) is None
    assert read_date("13/02/2026", YEAR_FIRST) is None
    assert read_date("Tue 02/03/2026", DAY_FIRST) is None  # a Monday
    assert read_date("Tuesday 2 March 2026", None) is None


@pytest.mark.parametrize(
    "text",
    [
        "1er mars 2026",
        "dim. 1er mars 2026",
        "1º de marzo de 2026",
        "1st March 2026",
        "March 1st 26",
    ],
)
def test_the_first_of_a_month_may_be_an_ordinal(text: str) -> None:
    assert read_date(text, None) == date(2026, 3, 1)


def test_mar_is_a_tuesday_before_a_date_and_a_month_before_a_day() -> None:
    assert read_date("mar 3 mars 2026", None) == date(2026, 3, 3)
    assert read_date("mar. 03/03/2026", None) == date(2026, 3, 3)
    assert read_date("mar 3, 2026", None) == date(2026, 3, 3)


def test_day_numbers_are_those_of_the_published_date_system() -> None:
    """ECMA-376, 1st edition, Part 4, "Date Representation": DATEVALUE("01-Feb-2006") = 38749."""
    assert read_date("38749", None) == date(2006, 2, 1)
    assert read_date("36526", None) == date(2000, 1, 1)  # computed, from 38749
    assert read_date("73050.99", None) == date(2099, 12, 31)  # computed, from 38749


def test_a_proof_is_a_text_that_a_single_order_can_read() -> None:
    texts = ["13/02/2026", "13/02/2026", "14.02.26", "02/13/2026", "03-25-26", "26-02-32"]
    evidence = order_evidence(texts)
    assert evidence.proofs == {YEAR_FIRST: 0, MONTH_FIRST: 2, DAY_FIRST: 3}
    assert (evidence.open, evidence.n_open) == ((), 0)
    # a weekday tells the order of a date that its numbers leave open
    assert order_evidence(["Mon 03/02/2026"]).proofs[MONTH_FIRST] == 1
    assert order_evidence(["Mon 02/03/2026"]).proofs[DAY_FIRST] == 1


def test_between_hyphens_two_digits_first_may_also_be_a_year() -> None:
    for text in ("26-03-02", "02-03-26", "25-03-26"):
        assert order_evidence([text]).n_open == 1, text
    assert order_evidence(["99-03-02"]).proofs[YEAR_FIRST] == 1
    assert order_evidence(["25/03/26"]).proofs[DAY_FIRST] == 1


def test_open_texts_are_counted_once_each_and_the_first_few_are_kept() -> None:
    texts = [f"{day:02}/03/2026" for day in (1, 2, 3, 4, 5, 6, 1)]  # 3 March is 3 March
    evidence = order_evidence(iter(texts))
    assert evidence.open == ("01/03/2026", "02/03/2026", "04/03/2026")
    assert evidence.n_open == 5
    assert not sum(evidence.proofs.values())


def evidence_of(day_first: int, month_first: int, n_open: int) -> OrderEvidence:
    proofs: dict[Order, int] = {YEAR_FIRST: 0, MONTH_FIRST: month_first, DAY_FIRST: day_first}
    return OrderEvidence(proofs, ("02/03/2026",) * min(n_open, 3), n_open)


@pytest.mark.parametrize(
    ("evidence", "declared", "order"),
    [
        (evidence_of(0, 0, 0), None, None),
        (evidence_of(4, 0, 9), None, DAY_FIRST),
        (evidence_of(0, 4, 9), None, MONTH_FIRST),
        (evidence_of(0, 4, 0), None, MONTH_FIRST),
        (evidence_of(99, 1, 9), None, DAY_FIRST),
        (evidence_of(5, 5, 0), None, None),
        (evidence_of(99, 1, 9), MONTH_FIRST, MONTH_FIRST),
        (evidence_of(0, 0, 9), YEAR_FIRST, YEAR_FIRST),
    ],
)
def test_the_order_is_the_declared_one_or_the_proved_one(
    evidence: OrderEvidence, declared: Order | None, order: Order | None
) -> None:
    assert settled_order(evidence, declared) == order


@pytest.mark.parametrize("evidence", [evidence_of(0, 0, 1), evidence_of(98, 1, 1)])
def test_an_order_that_is_open_or_contradicted_is_asked_for(evidence: OrderEvidence) -> None:
    with pytest.raises(UnsettledOrder) as asked:
        settled_order(evidence, None)
    assert asked.value.evidence is evidence


FORMATS: list[tuple[str, Order]] = [
    ("%Y-%m-%d", YEAR_FIRST),
    ("%y-%m-%d", YEAR_FIRST),
    ("%Y%m%d", YEAR_FIRST),
    ("%m/%d/%Y", MONTH_FIRST),
    ("%m/%d/%y", MONTH_FIRST),
    ("%a %m-%d-%Y", MONTH_FIRST),
    ("%B %d, %Y", MONTH_FIRST),
    ("%d.%m.%Y", DAY_FIRST),
    ("%d-%m-%y", DAY_FIRST),
    ("%A, %d %m %Y", DAY_FIRST),
    ("%d-%b-%y", DAY_FIRST),
]


@settings(deadline=None, derandomize=True)
@given(
    st.dates(date(2000, 1, 1), date(2099, 12, 31)),
    st.sampled_from(FORMATS),
    st.sampled_from(["", " 14:35", " 14:35:10", " 02:35 PM", "T14:35:00Z", " 14h35"]),
)
def test_a_day_that_is_written_is_read_back(
    day: date, notation: tuple[str, Order], time: str
) -> None:
    text = day.strftime(notation[0])
    assert read_date(text, notation[1]) == day
    assert applied(day_text, [text + time]) == [text]
    assert applied(hour_of, [text + time]) == [14 if time else None]
    # whatever is read without an order is the day itself: nothing is guessed
    assert read_date(text, None) in (day, None)


def test_excel_counts_on_from_day_to_day() -> None:
    for n in range(36526, 73051, 97):
        assert read_date(str(n), None) == date(2000, 1, 1) + timedelta(days=n - 36526)


def applied(function: object, texts: Sequence[str | None]) -> list[object]:
    assert callable(function)
    column = pl.DataFrame({"text": texts}, schema={"text": pl.String})
    return column.select(function(pl.col("text"))).to_series().to_list()


DAYS = [
    ("2026-03-02T14:35:00Z", "2026-03-02", 14),
    ("2026-03-02T14:35:00.123+01:00", "2026-03-02", 14),
    ("2026-03-02 14:35:00,123", "2026-03-02", 14),
    ("2026-03-02 00:00:00.000", "2026-03-02", 0),
    ("2026-03-02 14", "2026-03-02", 14),
    ("2026-03-02 14-15", "2026-03-02", 14),
    ("02/03/2026 2:35 PM", "02/03/2026", 14),
    ("3/2/2026, 2:35:10\u202fPM", "3/2/2026", 14),
    ("02/03/2026 2 pm", "02/03/2026", 14),
    ("02/03/2026 14h35", "02/03/2026", 14),
    ("2 mars 2026 à 14 h 35", "2 mars 2026", 14),
    ("2.3.2026 14:35 Uhr", "2.3.2026", 14),
    ("2.3.2026 14.35 Uhr", "2.3.2026", 14),
    ("2.3.2026 14.35", "2.3.2026", 14),
    ("2 March 2026 14.35", "2 March 2026", 14),
    ("20260302 14:35", "20260302", 14),
    (" 2026-03-02 ", "2026-03-02", None),
    # what looks like a time and is part of the date, or is no time at all
    ("02.03.2026", "02.03.2026", None),
    ("Mon 02.03.26", "Mon 02.03.26", None),
    ("2. 3. 2026", "2. 3. 2026", None),
    ("02 03 26", "02 03 26", None),
    ("02-03-26", "02-03-26", None),
    ("March 2 23", "March 2 23", None),
    ("March 2 03.26", "March 2 03.26", None),
    ("2/3 14-15", "2/3 14-15", None),
    ("14:35", "14:35", 14),
    ("20260302", "20260302", None),
    ("46083.5", "46083.5", None),
    ("2026-03-02 25:00", "2026-03-02 25:00", None),
    ("2026-03-02 14:60", "2026-03-02 14:60", None),
    ("", "", None),
    (None, None, None),
]


@pytest.mark.parametrize(("text", "day", "hour"), DAYS)
def test_a_time_of_day_is_taken_off_a_date(
    text: str | None, day: str | None, hour: int | None
) -> None:
    assert applied(day_text, [text]) == [day]
    assert applied(hour_of, [text]) == [hour]


HOURS: list[tuple[str, list[str]]] = [
    ("9", ["9", "09", " 9 ", "9.0", "9:05", "09:05", "9 AM", "9am", "9h", "9 Uhr", "9-10"]),
    ("14", ["14", "14:35", "14:35:10", "2 PM", "2:35 pm", "02:35:10 P.M.", "2.35 p.m."]),
    ("14", ["14h", "14h30", "14 h 30", "14-15", "14 - 15", "14:00-15:00", "14–15", "2 PM - 3 PM"]),
    ("14", ["14.35 Uhr", "14:35 Uhr", "14:35 h", "14:35Z", "14:35 PM"]),
    ("0", ["0", "00", "00:00", "12 AM", "12:05 am", "0h", "0-1"]),
    ("12", ["12", "12 PM", "12:05 pm", "12h"]),
    ("23", ["23", "23:59", "11 PM"]),
]


@pytest.mark.parametrize(("hour", "texts"), HOURS)
def test_an_hour_is_read_as_tills_write_it(hour: str, texts: list[str]) -> None:
    assert applied(hour_of, texts) == [int(hour)] * len(texts)


def test_what_is_no_hour_is_null() -> None:
    texts = ["24", "-1", "noon", "", "9.5", "14.35", "25:00", "14:75", "13 AM", "2:00-3:00 PM"]
    assert applied(hour_of, [*texts, "9 10", "1e1", "2026", "900"]) == [None] * 14
    hours = pl.DataFrame({"text": ["9"]}).select(hour_of(pl.col("text"))).to_series()
    assert hours.dtype == pl.Int64


def test_a_column_of_midnights_has_no_times() -> None:
    for text in ("2026-03-02 14:35", "3/2/2026 12:01 AM", "2.3.2026 14.00", "2026-03-02 00h30"):
        assert has_time(["2026-03-02", text]), text
    for text in (
        "2026-03-02 00:00:00.000",
        "2026-03-02T00:00:00+05:30",
        "3/2/2026 12:00:00 AM",
        "2026-03-02",
        "14:35",
        "",
    ):
        assert not has_time([text]), text
    assert not has_time([])
