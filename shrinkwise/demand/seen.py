"""The days of a line as the regression sees them."""

from shrinkwise.demand.calendar import Calendar
from shrinkwise.demand.hours import LineHours
from shrinkwise.demand.line import LineDays
from shrinkwise.demand.prices import past_price_ratio
from shrinkwise.records.ledger import LineLedger
from shrinkwise.records.tables import Records


def seen_days(
    records: Records, calendar: Calendar, ledger: LineLedger, hours: LineHours
) -> LineDays:
    """All days of a ledger, with what the calendar and the till know of each.

    Parameters
    ----------
    records : Records
    calendar : Calendar
    ledger : LineLedger
    hours : LineHours
    """
    ratio = past_price_ratio(records, calendar, ledger)
    effects = calendar.effects(ledger.line.name, ledger.dates, ratio)
    return LineDays.of(ledger, effects, hours.of(ledger))
