"""Numbers as tills and spreadsheets write them: which mark is the decimal one, and the values.

A text such as "1,234" is 1234 in one notation and 1.234 in another. The texts of a column are
weighed together: one that a single notation can read proves it for all of them.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

import polars as pl

Mark = Literal[".", ","]
"""The decimal mark."""
MARKS: tuple[Mark, ...] = get_args(Mark)

SLIPS = 100
"""One contradicting proof in so many is a slip of the hand (common practice, no source)."""
SHOWN = 3
"""Open texts kept to show."""

_MINUS = "-\u2212"
_SPACES = " \u00a0\u202f\u2009"
_CURRENCY = r"(?:[A-Z]{0,3}\p{Sc}|[A-Z]{2,3}|[Kk]r|S?Fr|Rs|Kč|zł|Ft)"
_CODE_POINT = r"([Kk]r|Fr|Rs)\."
_NEGATIVE = ("-", "\u2212", "()")
_ONE_SIGN = ("", "+", *_NEGATIVE)


@dataclass(frozen=True)
class MarkEvidence:
    """What the texts of a column say about its decimal mark.

    Attributes
    ----------
    proofs : dict of Mark to int
        Distinct texts with a mark that are a number with this decimal mark only.
    open : tuple of str
        The first few of the texts that are two different numbers, one with each mark.
    n_open : int
        How many of those there are.
    """

    proofs: dict[Mark, int]
    open: tuple[str, ...]
    n_open: int


class UnsettledMark(Exception):  # noqa: N818  a question to the user, not yet an error
    """The texts leave the decimal mark open; `evidence` says why."""

    def __init__(self, evidence: MarkEvidence) -> None:
        super().__init__(f"the decimal mark is open: {evidence}")
        self.evidence = evidence


def mark_evidence(texts: Iterable[str]) -> MarkEvidence:
    """Which decimal mark the texts prove, and which of them would be read in two ways.

    "12,50", "1.234,5", "1.234.567" and "0,125" prove the comma: read with a decimal point their
    groups would not be thousands. "1,234" is open. A text without a mark says nothing.

    Parameters
    ----------
    texts : iterable of str
        Cells of one column; each distinct text counts once.

    Returns
    -------
    MarkEvidence
    """
    cell = pl.col("text")
    distinct = pl.DataFrame({"text": list(dict.fromkeys(texts))}, schema={"text": pl.String})
    marked = distinct.filter(cell.str.contains(r"\d[.,]|[.,]\d"))
    if marked.is_empty():
        return MarkEvidence(dict.fromkeys(MARKS, 0), (), 0)
    read = marked.with_columns(number(cell, mark).alias(mark) for mark in MARKS)
    opened = read.filter(pl.col(".") != pl.col(","))["text"]
    return MarkEvidence(
        proofs={
            mark: read.filter(pl.col(mark).is_not_null() & pl.col(other).is_null()).height
            for mark, other in zip(MARKS, reversed(MARKS), strict=True)
        },
        open=tuple(opened.head(SHOWN)),
        n_open=opened.len(),
    )


def settled_mark(evidence: MarkEvidence, declared: Mark | None) -> Mark | None:
    """The decimal mark of a column.

    Parameters
    ----------
    evidence : MarkEvidence
        Of the column's texts.
    declared : Mark or None
        What the user says; it wins.

    Returns
    -------
    Mark or None
        The proved mark, where at most one proof in a hundred contradicts it: such a rare text
        is a slip of the hand, not a number in this notation, and is for the caller to set aside.
        Where no text is open, none can be misread, and the mark of the greater part will do.
        None where no text has a mark that needs one.

    Raises
    ------
    UnsettledMark
        When texts are open and nothing proves a mark, or the proofs contradict each other.
    """
    if declared is not None:
        return declared
    total = sum(evidence.proofs.values())
    for mark, proofs in evidence.proofs.items():
        slips = total - proofs
        # where no text is open none can be misread, and the greater part will do
        if total and (slips * SLIPS <= total or (not evidence.n_open and slips < proofs)):
            return mark
    if total or evidence.n_open:
        raise UnsettledMark(evidence)
    return None


def number(cell: pl.Expr, mark: Mark | None) -> pl.Expr:
    """Values of texts in one notation, as Float64; null where a text is no number in it.

    Read are: a currency sign or code before or behind; a minus before or behind, or parentheses
    for it; thousands in groups of three, by the other mark, a space or an apostrophe; ".5" and
    "5."; "1E+03" with a decimal point; a percent sign, which divides by 100.

    Parameters
    ----------
    cell : polars.Expr
        Texts; null stays null.
    mark : Mark or None
        The decimal mark; with None only digits without any mark are read.

    Returns
    -------
    polars.Expr
    """
    # the point of "kr." would pass for the mark of ".5"
    text = cell.str.strip_chars().str.replace_all(_CODE_POINT, "$1")
    around = text.str.replace(r"[0-9](?:.*[0-9])?", "")
    sign = around.str.replace_all(rf"[^{_MINUS}+()]", "")
    digits = text.str.extract(r"([0-9](?:.*[0-9])?)")
    if mark is not None:
        digits = (
            pl.when(text.str.contains(rf"^[^0-9]*[{mark}]"))
            .then(mark + digits)
            .otherwise(digits)
            .str.replace_all(rf"[^0-9eE+\-{mark}]", "")
            .str.replace(mark, ".", literal=True)
        )
    else:
        digits = digits.str.replace_all("[^0-9]", "")
    value = digits.cast(pl.Float64, strict=False)
    # "5.-" and "5,-" are prices without cents, not five owed: left unread
    dashed = text.str.contains(rf"[.,]\s*[{_MINUS}]")
    framed = text.str.contains(_frame(mark)) & sign.is_in(_ONE_SIGN)
    is_number = framed & ~dashed & value.is_finite()
    signed = value * pl.when(sign.is_in(_NEGATIVE)).then(-1.0).otherwise(1.0)
    parts = pl.when(is_percent(cell)).then(100.0).otherwise(1.0)
    return pl.when(is_number).then(signed / parts)


def is_percent(cell: pl.Expr) -> pl.Expr:
    """Whether a text ends in a percent sign behind a digit; null where it is null."""
    return cell.str.contains(rf"\d[.,]?\s*[{_MINUS}]?\s*%\s*\)?\s*[{_MINUS}]?\s*$")


def _frame(mark: Mark | None) -> str:
    """What may stand around a number; how many signs of it do is for the caller to see."""
    before, behind = rf"[{_MINUS}+(]?", rf"[{_MINUS})]?"
    return (
        rf"^{before}\s*{_CURRENCY}?\s*{before}\s*(?:{_body(mark)})"
        rf"\s*{behind}\s*(?:%|{_CURRENCY})?\s*{behind}$"
    )


def _body(mark: Mark | None) -> str:
    """The digits with their marks. A group of thousands never starts with a zero."""
    groups = [rf"(?:[{_SPACES}][0-9]{{3}})+", r"(?:['’][0-9]{3})+"]
    if mark is None:
        return rf"[0-9]+|[1-9][0-9]{{0,2}}(?:{'|'.join(groups)})"
    other = "," if mark == "." else "."
    groups.append(rf"(?:[{other}][0-9]{{3}})+")
    power = r"(?:[eE][+\-]?[0-9]{1,3})?" if mark == "." else ""
    fraction = rf"(?:[{mark}][0-9]*)?"
    return (
        rf"[0-9]+{fraction}{power}|[{mark}][0-9]+{power}"
        rf"|[1-9][0-9]{{0,2}}(?:{'|'.join(groups)}){fraction}"
    )
