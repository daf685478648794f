"""The bytes of a log file: checked for size, unpacked, decoded to text."""

import codecs
import gzip
import re
import zipfile
import zlib
from io import BytesIO
from pathlib import Path

_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)

_START = 4096
_OTHER_KINDS = (b"PK\x03\x04", b"PAR1", b"\x1f\x8b", b"\xd0\xcf\x11\xe0", b"%PDF")
"""How workbooks new and old, Parquet, gzip and PDF files begin."""
_CONTROLS = re.compile(r"[\x01-\x08\x0e-\x1f\ue000-\uf8ff]")
"""Characters that no text has, or one in fifty at the most."""


class UnreadableFileError(Exception):
    """A file that cannot be used as a whole; the text says why, `what_to_do` how to mend it."""

    def __init__(self, rule: str, what_to_do: str) -> None:
        super().__init__(rule)
        self.rule = rule
        self.what_to_do = what_to_do


class TooLargeError(Exception):
    """A file that unpacks to more than the store allows."""


def unpacked(path: Path, largest_mb: int) -> bytes:
    """The bytes of a gzip file.

    Raises
    ------
    TooLargeError
    UnreadableFileError
        When it is cut short or no gzip file.
    """
    limit = largest_mb * 1_000_000
    try:
        with gzip.open(path) as file:
            data = file.read(limit + 1)
    except (OSError, EOFError, zlib.error) as error:
        raise UnreadableFileError(
            "cannot be unpacked; it may be half-copied", "Copy or export it again."
        ) from error
    if len(data) > limit:
        raise TooLargeError
    return data


def check_zip(data: bytes, largest_mb: int) -> None:
    """Refuse a workbook (a zip archive) that would unpack to an absurd size.

    Raises
    ------
    TooLargeError
    UnreadableFileError
        When it is cut short or no archive.
    """
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            if sum(entry.file_size for entry in archive.infolist()) > largest_mb * 1_000_000:
                raise TooLargeError
            # the sizes are the archive's own word: unpack once, a piece at a time, to hold it to it
            whole = archive.testzip() is None
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError, RuntimeError):
        # RuntimeError: the archive asks for a password
        whole = False
    if not whole:
        raise UnreadableFileError(
            "is no whole Excel workbook; it may be half-copied, locked or protected",
            "Close it in Excel, then save it again without a password.",
        )


def text_of(data: bytes) -> str:
    """Bytes as text: by byte order mark, else UTF-8, else UTF-16 by its NULs, else Windows-1252.

    Windows-1252 reads any bytes; the five that it leaves undefined become U+FFFD.

    Raises
    ------
    UnreadableFileError
        When this is no text, whatever the name of the file says.
    """
    text = _decoded(data)
    start = text[:_START]
    if data.startswith(_OTHER_KINDS) or len(_CONTROLS.findall(start)) * 50 > len(start):
        raise UnreadableFileError(
            "is no text", "Give the file the ending of what it is, or export it again as CSV."
        )
    return text.replace("\0", "")


def _decoded(data: bytes) -> str:
    for mark, encoding in _BOMS:
        if data.startswith(mark):
            return data[len(mark) :].decode(encoding, "replace")
    if b"\0" not in data:
        try:
            return data.decode("utf-8")
        except UnicodeDecodeError:
            return data.decode("cp1252", "replace")
    # text of a few letters in UTF-16 has its NULs at every second place
    even, odd = data[:_START:2].count(0), data[1:_START:2].count(0)
    if max(even, odd) > 4 * max(min(even, odd), 1):
        return data.decode("utf-16-be" if even > odd else "utf-16-le", "replace")
    return data.decode("cp1252", "replace")
