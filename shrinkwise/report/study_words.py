"""What an offer's study says, in sentences."""

from shrinkwise.report.words import count_text, money_text
from shrinkwise.scenarios.break_even import SHARES, BreakEven
from shrinkwise.scenarios.common import CommonStudy
from shrinkwise.scenarios.sensitivity import Swing
from shrinkwise.scenarios.study import Study, SwitchStudy

ASSUMPTIONS = {
    "dough_cost": "dough cost",
    "demand_factor": "demand after the switch",
    "fussy_pct": "share of fussy shoppers",
    "shelf_life_days": "days that it really keeps",
    "wage_per_hour": "wage",
    "minutes_per_bake": "set-up of a bake",
    "disposal_cost": "disposal cost",
    "demand_units_week": "level of demand",
    "oldest_first_share": "oldest-first share",
}
"""What must be true, and how it is called."""

WORTH_SAYING = 5.0
"""[% of a variance]"""

_TERMS = {
    "dough_cost": ("up to a dough cost of {}", "at no dough cost"),
    "price": ("from a price of {} on", "at no price up to four times the offered one"),
    "demand_factor": ("from {} of the present demand on", "at no demand up to three times as high"),
    "extra_days": ("from {} of shelf life on", "with no shelf life that was looked at"),
}


def break_even_text(found: BreakEven, currency: str) -> str:
    """'It pays up to a dough cost of USD 1.07 (offered USD 1.12; ...)'."""
    if found.term == "fussy_pct":
        return fussy_text(found)
    some, none = _TERMS[found.term]
    offered = _value(found.term, found.offered, currency)
    if found.root is None:
        return f"It pays {none} (offered {offered})."
    ends = [_value(found.term, end, currency) for end in (found.low, found.high) if end is not None]
    if len(ends) == 2 and ends[0] != ends[1]:
        doubt = f"; in nine of ten futures {ends[0]} to {ends[1]}"
    else:
        doubt = "" if len(ends) == 2 else "; in some futures not at all"
    place = some.format(_value(found.term, found.root, currency))
    return f"It pays {place} (offered {offered}{doubt})."


def fussy_text(found: BreakEven) -> str:
    """'It pays unless more than 41 of 100 shoppers refuse it after day 2 on the shelf (in nine of
    ten futures 12 to 63).'"""
    if found.term == "fussy_pct":
        pays, after = "It {}", f"it after day {found.until_day} on the shelf"
    else:
        pays = "For all changed lines alike, under the plans at hand, it {}"
        after = "them after the days of today on the shelf"
    if found.root is None:
        return f"{pays.format('does not pay')} even if no shopper refuses {after}."
    ends = [f"{end:.0f}" for end in (found.low, found.high) if end is not None]
    doubt = "in nine of ten futures " + " to ".join(dict.fromkeys(ends))
    if len(ends) < 2:
        doubt = "in some futures not at all"
    if found.offered:
        doubt = f"stated are {found.offered:g}; {doubt}"
    if found.root == SHARES.high:
        return f"{pays.format('pays')} even if every shopper refuses {after} ({doubt})."
    more = f"unless more than {found.root:.0f} of 100 shoppers refuse {after}"
    return f"{pays.format('pays')} {more} ({doubt})."


def _value(term: str, value: float, currency: str) -> str:
    if term == "demand_factor":
        return f"{100 * value:.0f}%"
    if term == "extra_days":
        return extra_days_text(int(value))
    return f"{currency} {value:,.3f}"


_COMMON = {
    "extra_cost": ("up to a dough cost of {} than offered", "at no dough cost"),
    "price_factor": ("from {} of the offered prices on", "at no prices up to four times as high"),
    "common_demand": ("from {} of the stated demand on", "at no demand from half to twice as high"),
    "more_days": ("from {} on", "with no shelf life that was looked at"),
}


def common_text(found: BreakEven, currency: str) -> str:
    """'For all changed lines alike, it pays up to a dough cost of USD 0.008 a unit more than
    offered (in nine of ten futures ...).'"""
    if found.term == "common_fussy":
        return fussy_text(found)
    some, none = _COMMON[found.term]
    ends = [_common_value(found.term, end, currency) for end in (found.low, found.high)]
    if found.root is None:
        return f"For all changed lines alike, it pays {none}."
    if None in ends:
        doubt = "in some futures not at all"
    else:
        doubt = "in nine of ten futures " + " to ".join(dict.fromkeys(map(str, ends)))
    place = some.format(_common_value(found.term, found.root, currency))
    return f"For all changed lines alike, it pays {place} ({doubt})."


def _common_value(term: str, value: float | None, currency: str) -> str | None:
    if value is None:
        return None
    if term == "extra_cost":
        return f"{currency} {abs(value):,.3f} a unit {'more' if value >= 0 else 'less'}"
    if term == "more_days":
        than = f"{extra_days_text(int(value))} than offered"
        return than if value else "the offered days"
    return f"{100 * value:.1f}%"


def extra_days_text(extra: int) -> str:
    """'2 days more', '1 day less', 'the present days'."""
    if extra == 0:
        return "the present days"
    return f"{count_text(abs(extra), 'day')} {'more' if extra > 0 else 'less'}"


def swing_text(swing: Swing, currency: str) -> str:
    """'dough cost (USD 1.06 to USD 1.18)'."""
    low, high = (_end(swing.assumption, end, currency) for end in (swing.low, swing.high))
    return f"{ASSUMPTIONS[swing.assumption]} ({low} to {high})"


def _end(assumption: str, value: float, currency: str) -> str:
    if assumption in ("demand_factor", "oldest_first_share"):
        return f"{100 * value:.0f}%"
    if assumption == "fussy_pct":
        return f"{value:.0f}%"
    if assumption == "shelf_life_days":
        return f"{value:.0f}"
    if assumption == "minutes_per_bake":
        return f"{value:g} min"
    if assumption == "demand_units_week":
        return f"{value:.0f} units a week"
    return f"{currency} {value:,.2f}"


def deciding_text(study: SwitchStudy, currency: str) -> str:
    """Which assumption decides the answer."""
    offered = float(study.offer.brings.mean())
    turning = [swing for swing in study.swings if swing.turns(offered)]
    first = (turning or study.swings)[0]
    low, high = (money_text(end, currency) for end in (first.at_low, first.at_high))
    moved = f"over its range the week goes from {low} to {high}"
    if not turning:
        return (
            "No single assumption turns the answer within its range; what moves it furthest is "
            f"the {swing_text(first, currency)}: {moved}."
        )
    text = f"What decides the answer is the {swing_text(first, currency)}: {moved}"
    others = [ASSUMPTIONS[swing.assumption] for swing in turning[1:]]
    return f"{text}. Also able to turn it: {', '.join(others)}." if others else f"{text}."


def together_text(study: SwitchStudy, currency: str) -> str:
    """What the switch brings when all assumptions move together, and which of them decides it."""
    every = study.together
    worst, best = (money_text(one.brings, currency) for one in (every.worst, every.best))
    own = every.own_pct
    first = max(own, key=lambda name: own[name])
    together = 100 - sum(own.values())
    rest = f", {together:.0f}% what they do together" if together >= WORTH_SAYING else ""
    most = "most" if own[first] > 50 else "more than any other"
    return (
        f"All at their worse ends together: {worst} a week; at their better ends: {best}. It pays "
        f"in {every.paying} of {len(every)} combinations of the ends; the {ASSUMPTIONS[first]} "
        f"decides {most} ({own[first]:.0f}%{rest})."
    )


def study_sentences(study: Study | None, currency: str) -> list[str]:
    """Where an offer breaks even, and which assumption decides, alone and with all others."""
    if study is None:
        return [
            "Break-evens are looked for where lines change, none is new, and no limit on what "
            "lines share holds one back."
        ]
    if isinstance(study, CommonStudy):
        return [common_text(one, currency) for one in study.break_evens]
    found = [break_even_text(one, currency) for one in study.break_evens]
    return [*found, deciding_text(study, currency), together_text(study, currency)]
