"""Which line a product cell means."""

import re
import unicodedata
from dataclasses import dataclass

from shrinkwise.profile.line import Line
from shrinkwise.records.gtin import padded


@dataclass(frozen=True)
class Match:
    """The line that a text means.

    Attributes
    ----------
    line : str or None
        None when no line is meant.
    guess : str
        Why this is a guess, "" when it is none.
    """

    line: str | None
    guess: str = ""


class LineNames:
    """The names under which the logs may speak of the store's lines.

    A text means a line when it is its name or one of `also_called`, letter for letter; or when
    both are GTINs with right check digits and the same number once padded to 14 digits (GS1
    General Specifications). It is a guess, to be confirmed, when only case, accents or spacing
    differ, or when a code has lost its leading zeros; never where two lines would fit.
    """

    def __init__(self, lines: tuple[Line, ...]) -> None:
        self._exact: dict[str, str] = {}
        self._gtins: dict[str, str] = {}
        loose: dict[str, set[str]] = {}
        codes: dict[str, set[str]] = {}
        for line in lines:
            for name in (line.name, *line.also_called):
                self._exact[name] = line.name
                if gtin := padded(name):
                    self._gtins[gtin] = line.name
                if name.isdecimal():
                    codes.setdefault(name.lstrip("0"), set()).add(line.name)
                loose.setdefault(_loose(name), set()).add(line.name)
        self._loose = {text: names.pop() for text, names in loose.items() if len(names) == 1}
        self._codes = {code: names.pop() for code, names in codes.items() if len(names) == 1}

    def match(self, text: str) -> Match:
        """The line that `text` means."""
        if line := self._exact.get(text):
            return Match(line)
        if (gtin := padded(text)) and (line := self._gtins.get(gtin)):
            return Match(line)
        code = text.removesuffix(".0")
        if code.isdecimal() and (line := self._codes.get(code.lstrip("0"))):
            return Match(line, f"read as the code of {line!r} that a spreadsheet took for a number")
        if line := self._loose.get(_loose(text)):
            return Match(line, f"read as {line!r}, which differs in capitals, accents or spaces")
        return Match(None)

    def knows(self, text: str) -> bool:
        """Whether `text` means a line, if only as a guess."""
        return self.match(text.strip()).line is not None

    def bad_gtin(self, text: str) -> bool:
        """Whether `text` is a known GTIN but for its check digit."""
        if not text.isdecimal() or len(text) not in (8, 12, 13, 14) or padded(text):
            return False
        body = text[:-1].zfill(13)
        return any(known[:-1] == body for known in self._gtins)


def _loose(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(mark for mark in plain if not unicodedata.combining(mark))
    return re.sub(r"[\s_-]+", "", letters)
