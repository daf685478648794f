"""Lines weighed together where they share limits: the rules that the store would choose."""

from collections.abc import Mapping
from dataclasses import replace

from shrinkwise.errors import PlanError
from shrinkwise.planning.offers import Offers, line_offers
from shrinkwise.planning.rule import Rule
from shrinkwise.planning.store_choice import picks_for_store
from shrinkwise.profile.store import Store
from shrinkwise.progress import no_progress, on_all_cores
from shrinkwise.scenarios.footing import played_rule, weeks_under
from shrinkwise.scenarios.line_case import LineCase


def chosen_together(
    name: str, lines: Mapping[str, LineCase], store: Store, offered: dict[int, Offers]
) -> dict[str, LineCase]:
    """The lines, those with another rule that cannot have their own best within what all share.

    Parameters
    ----------
    name : str
        Of the lines, for messages.
    lines : mapping of str to LineCase
        Each under its own best plan.
    store : Store
        With the capacity and the labour that there would be; without a limit lines share only the
        opening of a baking day.
    offered : dict of int to Offers
        Offers of lines that were asked before with the same labour, by the `id` of their case; new
        ones are put in.

    Raises
    ------
    PlanError
        When the rules offered cannot keep within the capacity.
    """
    cases = list(lines.values())
    unknown = [case for case in cases if id(case) not in offered]

    def offers(case: LineCase) -> Offers:
        return line_offers(case.line, store, case.futures, case.sale.choice)

    found = on_all_cores(offers, unknown, no_progress)
    offered.update((id(case), one) for case, one in zip(unknown, found, strict=True))
    of_lines = [offered[id(case)] for case in cases]
    try:
        picks, bound = picks_for_store(store, of_lines)
    except PlanError as error:
        raise PlanError(f"{name}: {error}") from error
    return {
        line: _taking(case, one.rules[pick], bound, store) if pick else case
        for (line, case), one, pick in zip(lines.items(), of_lines, picks, strict=True)
    }


def _taking(case: LineCase, rule: Rule, bound: bool, store: Store) -> LineCase:
    """The line with one of its offers in place of its own choice."""
    outcome = played_rule(rule, case.line, store, case.futures)
    plain = rule if rule.batch_table is None else case.sale.plain
    sale = replace(case.sale, rule=rule, plain=plain, outcome=outcome)
    return replace(
        case,
        rule=rule,
        outcome=outcome,
        sales=(*case.sales, sale),
        weeks=weeks_under(rule, case.line, case.futures),
        makes_room=bound,
    )
