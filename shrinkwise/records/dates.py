"""Dates and times of day as tills and spreadsheets write them, and the order of their numbers.

02/03/2026 is two dates. The texts of a column are weighed together: one that a single order can
read (13/02/2026) proves it for all of them, and where none does, the user is asked. Month and
weekday names are English, German, French or Spanish, whole or as their first letters.
"""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, get_args

import polars as pl

Order = Literal["year-month-day", "month-day-year", "day-month-year"]
"""The order in which the numbers of a date stand."""
ORDERS: tuple[Order, ...] = get_args(Order)
YEAR_FIRST, MONTH_FIRST, DAY_FIRST = ORDERS

SLIPS, SHOWN = 100, 3
"""One contradicting proof in so many is a slip (common practice, no source); texts to show."""
SERIALS, SERIAL_ORIGIN = (36526, 73050), date(1899, 12, 30)
"""Excel day numbers that are taken for one, 2000-01-01 to 2099-12-31; day 0 of the 1900 date
system for days after its 29 February 1900, which never was."""

_MONTHS = """
january januar janner jaenner janvier enero, february februar feber fevrier febrero,
march marz maerz mrz mars marzo, april avril abril, may mai mayo, june juni juin junio,
july juli juillet julio, august aout agosto, september septembre septiembre setiembre,
october oktober octobre octubre, november novembre noviembre,
december dezember decembre diciembre"""
_WEEKDAYS = """
monday montag lundi lunes, tuesday dienstag mardi martes, wednesday mittwoch mercredi miercoles,
thursday donnerstag jeudi jueves, friday freitag vendredi viernes,
saturday samstag samedi sabado, sunday sonntag dimanche domingo"""


def _beginnings(names: str, least: int) -> dict[str, set[int]]:
    """The places that a beginning of a name, of `least` letters or more, can stand for."""
    places: dict[str, set[int]] = {}
    for place, words in enumerate(names.split(",")):
        for word in words.split():
            for end in range(least, len(word) + 1):
                places.setdefault(word[:end], set()).add(place)
    return places


# "jui" is June and July: a beginning that two months share is left out, not guessed
_MONTH_OF = {word: min(at) + 1 for word, at in _beginnings(_MONTHS, 3).items() if len(at) == 1}
_WEEKDAY_OF = _beginnings(_WEEKDAYS, 2)

_NUMBERS = re.compile(r"(\d{1,4})([-/. ])(\d{1,2})\2(\d{1,4})", re.A)
_SERIAL = re.compile(r"(\d{5})(?:[.,]\d+)?", re.A)
_COMPACT = re.compile(r"(\d{4})(\d\d)(\d\d)", re.A)
_D, _M, _Y = r"(?P<d>\d{1,2})(?:st|nd|rd|th|er)?", "(?P<m>[a-z]{3,})", r"(?P<y>\d{4}|\d\d)"
_NAMED = (
    re.compile(rf"{_D}[ ./-]*(?:de |of )?{_M}[ ,./-]*(?:del? )?{_Y}", re.A),
    re.compile(rf"{_M}[ ./-]*{_D}[ ,./-]+{_Y}", re.A),
    re.compile(rf"(?P<y>\d{{4}})[ ,./-]*{_M}[ ,./-]*(?P<d>\d{{1,2}})", re.A),
)
_WEEKDAY = re.compile(r"([a-z]{2,})[., ]*(?:(?:den|le|el|the) )?(.+)")

_HOUR = r"(?:[01]?[0-9]|2[0-3])"
_COLON = rf"{_HOUR}:[0-5][0-9](?::[0-5][0-9](?:[.,][0-9]+)?)?"
_ZONE = r"\s?(?:Z|UTC|[+-][0-9]{2}:?[0-9]{2})"
_HALVES = rf"{_HOUR}(?:[:.][0-5][0-9]){{0,2}}\s?[ap]\.?\s?m\.?"
_LETTER = rf"{_HOUR}\s?h(?:\s?[0-5][0-9])?|{_HOUR}(?:[:.][0-5][0-9])?\s?Uhr"
_CLOCK = rf"{_COLON}(?:\s?h|{_ZONE})?|{_HALVES}|{_LETTER}"
_SPAN = "|".join(rf"(?:{t})\s?[-–]\s?(?:{t})" for t in (_HOUR, _COLON, _HALVES, _LETTER))
_ALONE = rf"(?i)^(?:{_CLOCK}|{_SPAN}|{_HOUR}(?:\.0)?)$"
# a dotted time, a span and a bare hour could be part of a date: a whole one must stand before
_AFTER_DATE = (
    rf"(?i)^(.*[0-9])(?:(?-i:T)|,?\s+(?:at |um |à )?)({_CLOCK})$",
    rf"(?i)^((?:[\pL0-9]+[^\pL0-9]+){{2,}}[0-9]+),?\s+({_SPAN}|{_HOUR}(?:\.[0-5][0-9]){{1,2}})$",
    rf"^([0-9]+[-/. ]+[0-9]+[-/. ]+[0-9]+)[T\s]\s*({_HOUR})$",
)
_HOUR_OF = {
    f"{text}{half}": hour % 12 + 12 * (half == "p") if half else hour
    for hour in range(24)
    for text in (f"{hour}", f"{hour:02}")
    for half in (("", "a", "p") if hour <= 12 else ("", "p"))
}


@dataclass(frozen=True)
class OrderEvidence:
    """What the texts of a column say about the order of their numbers.

    `proofs` counts the distinct texts that this order can read and no other of their shape can;
    `open` holds the first few, `n_open` the number, of those that orders read as different dates.
    A text of one reading by its shape alone (four-digit year first, month by name, eight digits,
    day number) is in neither.
    """

    proofs: dict[Order, int]
    open: tuple[str, ...]
    n_open: int


class UnsettledOrder(Exception):  # noqa: N818  a question to the user, not yet an error
    """The texts leave the order open; `evidence` says why."""

    def __init__(self, evidence: OrderEvidence) -> None:
        super().__init__(f"the order of the dates is open: {evidence}")
        self.evidence = evidence


def day_text(cell: pl.Expr) -> pl.Expr:
    """Texts of dates without a time of day at their end and without space around them."""
    text = cell.str.strip_chars()
    return pl.coalesce(*(text.str.extract(shape, 1) for shape in _AFTER_DATE), text)


def hour_of(cell: pl.Expr) -> pl.Expr:
    """Hour, as Int64 from 0 to 23, of a text that is an hour or a time of day, or ends in one.

    A span such as "14-15" gives the hour in which it starts. Null where there is no hour.
    """
    text = cell.str.strip_chars()
    alone = text.str.contains(_ALONE)
    clock = pl.when(alone).then(text).otherwise(_clock_after_date(text))
    key = clock.str.replace(r"(?i)^([0-9]+)(?:.*?([ap])\.?\s?m)?.*$", "${1}${2}")
    return key.str.to_lowercase().replace_strict(_HOUR_OF, default=None, return_dtype=pl.Int64)


def has_time(texts: Iterable[str]) -> bool:
    """Whether any text is a date with a time of day other than midnight.

    A column in which all times are midnight holds days that some program wrote as moments.
    """
    text = pl.lit(pl.Series(list(texts), dtype=pl.String)).str.strip_chars()
    clock = _clock_after_date(text)
    minutes = clock.str.replace(_ZONE + "$", "").str.contains(r"(?i)[:.h]\s?[0-9]*[1-9]")
    timed = (hour_of(text) > 0) | minutes
    return bool(pl.select((clock.is_not_null() & timed).any()).item())


def _clock_after_date(text: pl.Expr) -> pl.Expr:
    return pl.coalesce(*(text.str.extract(shape, 2) for shape in _AFTER_DATE))


def order_evidence(texts: Iterable[str]) -> OrderEvidence:
    """Which order the texts of a column prove, and which of them would be read in two ways.

    The texts have no times of day; each distinct one counts once.
    """
    proofs: dict[Order, int] = dict.fromkeys(ORDERS, 0)
    opened: list[str] = []
    for text in dict.fromkeys(texts):
        readings = _readings(text)
        read = [order for order, day in readings.items() if day]
        if len(readings) > 1 and len(read) == 1:
            proofs[read[0]] += 1
        elif len({readings[order] for order in read}) > 1:
            opened.append(text)
    return OrderEvidence(proofs, tuple(opened[:SHOWN]), len(opened))


def settled_order(evidence: OrderEvidence, declared: Order | None) -> Order | None:
    """The order of a column's dates: the declared one, or the proved one.

    Proved is the order that at most one proof in a hundred contradicts: such a text is a slip of
    the hand, for the caller to set aside. None where no text needs an order.

    Raises
    ------
    UnsettledOrder
        When texts are open and nothing proves an order, or the proofs contradict each other.
    """
    if declared is not None:
        return declared
    total = sum(evidence.proofs.values())
    for order, proofs in evidence.proofs.items():
        if total and (total - proofs) * SLIPS <= total:
            return order
    if evidence.n_open:
        raise UnsettledOrder(evidence)
    return None


def read_date(text: str, order: Order | None) -> date | None:
    """The date that a text without a time of day stands for, or None.

    None: no date in this `order`, an impossible one, or not the weekday that the text names;
    without an order also a text of two readings. A year of two digits is 20YY; it stands first
    only between hyphens (common practice, no source). A day number is Excel's, as in ECMA-376,
    Part 4, "Date Representation", 1900 date base system.
    """
    readings = _readings(text)
    if order is not None and len(readings) > 1:
        return readings.get(order)
    days = {day for day in readings.values() if day}
    return days.pop() if len(days) == 1 else None


def read_dates(texts: Iterable[str], order: Order | None) -> dict[str, date | None]:
    """The date of each distinct text, as `read_date` reads it."""
    return {text: read_date(text, order) for text in dict.fromkeys(texts)}


def _readings(text: str) -> dict[Order, date | None]:
    """The date under each order that the text's shape admits; one entry where it is fixed."""
    folded = _folded(text)
    if match := _WEEKDAY.fullmatch(folded):
        named, rest = _WEEKDAY_OF.get(match[1]), _dates(match[2])
        # "mar" is Tuesday before a whole date and March before a day and a year
        if named and rest:
            return {o: day if day and day.weekday() in named else None for o, day in rest.items()}
    return _dates(folded)


def _dates(text: str) -> dict[Order, date | None]:
    if match := _NUMBERS.fullmatch(text):
        return _by_order(match[1], match[2], match[3], match[4])
    if match := _COMPACT.fullmatch(text):
        return {YEAR_FIRST: _day(match[1], int(match[2]), match[3])}
    if (match := _SERIAL.fullmatch(text)) and SERIALS[0] <= int(match[1]) <= SERIALS[1]:
        return {YEAR_FIRST: SERIAL_ORIGIN + timedelta(days=int(match[1]))}
    for shape in _NAMED:
        if (match := shape.fullmatch(text)) and match["m"] in _MONTH_OF:
            return {YEAR_FIRST: _day(match["y"], _MONTH_OF[match["m"]], match["d"])}
    return {}


def _by_order(first: str, mark: str, second: str, third: str) -> dict[Order, date | None]:
    a, b, c = len(first), int(second), len(third)
    readings: dict[Order, date | None] = {}
    if (a == 4 and c <= 2) or (a == 2 and c <= 2 and mark == "-"):
        readings[YEAR_FIRST] = _day(first, b, third)
    if a <= 2 and c in (2, 4):
        readings[MONTH_FIRST] = _day(third, int(first), second)
        readings[DAY_FIRST] = _day(third, b, first)
    return readings


def _day(year: str, month: int, day: str) -> date | None:
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), month, int(day))
    except ValueError:
        return None


def _folded(text: str) -> str:
    """Small letters without accents, single spaces, no space around a separator."""
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text.replace("º", "").replace("ª", ""))
        text = "".join(letter for letter in text if not unicodedata.combining(letter))
    return re.sub(r" ?([-/.]) ?", r"\1", " ".join(text.lower().split()))
