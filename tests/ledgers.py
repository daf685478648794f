"""Ledgers by hand."""

from datetime import date

import numpy as np
from numpy.typing import ArrayLike

from shrinkwise.profile.line import Line
from shrinkwise.records.ledger import LineLedger

MONDAY = date(2026, 1, 5)


def ledger_of(line: Line, n_days: int, **units: ArrayLike) -> LineLedger:
    """A line's ledger from a Monday on, open on every day, with known bakes; nothing happens but
    what is given, for every day or for all days alike."""
    names = (
        "baked",
        "sold",
        "sold_reduced",
        "labelled",
        "disposed_last_day",
        "disposed_early",
        "on_hand_open",
        "on_hand_close",
        "unexplained",
    )
    given = {
        name: np.broadcast_to(np.asarray(units.pop(name, 0), np.int64), n_days).copy()
        for name in names
    }
    assert not units, units
    return LineLedger(
        line=line,
        start=MONDAY,
        is_open=np.ones(n_days, np.bool_),
        sold_out=np.zeros(n_days, np.bool_),
        bake_seen=np.zeros(n_days, np.bool_),
        bakes_inferred=False,
        **given,
    )
