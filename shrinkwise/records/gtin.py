"""Trade item numbers (GTIN) as tills print them: their check digit and their one common length.

Source: GS1 General Specifications, standard check digit calculation (modulo 10; weights 3 and 1
in turn, 3 on the digit next to the check digit), and a GTIN of 8, 12 or 13 digits in a field of
14 with zeros before it.
"""

LENGTHS = (8, 12, 13, 14)
"""Digits of a GTIN, the check digit counted."""


def check_digit(body: str) -> int:
    """Check digit of a GS1 key from the digits before it.

    Parameters
    ----------
    body : str
        All digits of the key but the last, whatever the key's length.

    Returns
    -------
    int
        0 to 9.

    Raises
    ------
    ValueError
        When `body` holds anything but the digits 0 to 9, or nothing.

    Examples
    --------
    >>> check_digit("629104150021")
    3
    """
    if not _all_digits(body):
        raise ValueError(f"the body of a GS1 key is digits only, not {body!r}")
    weighted = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(body)))
    return -weighted % 10


def padded(code: str) -> str | None:
    """`code` as a GTIN of 14 digits, or None where it is no GTIN.

    Parameters
    ----------
    code : str
        Digits alone; spaces are not taken off.

    Returns
    -------
    str or None
        14 digits when `code` has 8, 12, 13 or 14 digits and the last is its check digit.

    Examples
    --------
    >>> padded("02345673")
    '00000002345673'
    """
    if len(code) not in LENGTHS or not _all_digits(code):
        return None
    return code.zfill(14) if check_digit(code[:-1]) == int(code[-1]) else None


def _all_digits(text: str) -> bool:
    # isdigit alone also takes superscripts and the digits of other scripts
    return text.isascii() and text.isdigit()
