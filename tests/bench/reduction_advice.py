"""What the advice on reductions is worth on generated stores whose shoppers are known.

Run by hand, some ten seconds a store: `python tests/bench/reduction_advice.py 50`. Each store has
one line that is reduced, with shoppers of every kind (`line_with_kinds`); with `plain` behind the
number there are none but oldest-first and freshest-first ones. From a year of logs comes the
advice; the truth plays the present reduction and the advised one, each under the plan that the fit
recommends for it, on the true demand and the true shoppers. In the truth, too, bargain shoppers
grow with the depth of the reduction.
"""

import sys
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from generated import line_with_kinds, records_of, store_of
from known_futures import true_futures

from shrinkwise.demand.model import fit_demand
from shrinkwise.demand.paths import INTERVAL
from shrinkwise.planning.futures import Futures
from shrinkwise.planning.habit import present_habit
from shrinkwise.planning.judging import chosen_rule
from shrinkwise.planning.markdown import at_depth, markdown_options, price_points
from shrinkwise.planning.outcome import Floats, line_outcome
from shrinkwise.planning.rule import Rule, policy_of
from shrinkwise.planning.settings import PlanSettings, planning_start
from shrinkwise.planning.two_sets import DrawnSet, Judging, judging_futures
from shrinkwise.profile.line import Line
from shrinkwise.profile.store import Labour
from shrinkwise.sample.line_truth import OtherKinds
from shrinkwise.shelf.kind_pool import closer_look
from shrinkwise.shelf.kinds import Estimate
from shrinkwise.shelf.model import fit_shelf

SETTINGS = PlanSettings()


@dataclass(frozen=True)
class Weighed:
    """The best other reduction of a store's line, and what it comes to [money per week].

    Attributes
    ----------
    bargain : Estimate
        Bargain shoppers as the logs tell them.
    best : str
        The best other reduction: "never" or the day and the price.
    is_advised : bool
    stated, low, high : float
        Its saving on the fitted futures: mean and middle 90%.
    truth : float
        On the true ones.
    """

    bargain: Estimate
    best: str
    is_advised: bool
    stated: float
    low: float
    high: float
    truth: float


def weighed(seed: int, plain: bool) -> Weighed | None:
    """The best other reduction and its worth; None where the logs cannot tell."""
    truth = line_with_kinds(seed, plain)
    store = store_of(truth)
    records = records_of(store, seed)
    demand = fit_demand(records)
    shelf = fit_shelf(records, demand)
    (line,), labour = records.profile.lines, records.profile.labour
    futures = judging_futures(records, demand, shelf, SETTINGS)[line.name]
    ledger, start = demand.ledgers[line.name], planning_start(records)
    share, told = shelf.lines[line.name], shelf.kinds[line.name]
    kinds = closer_look(records, ledger, demand, share, told)
    judged = DrawnSet.of(True, start, records.profile, demand, SETTINGS)
    every_kind = judged.futures(shelf.with_every_kind(line.name, kinds), line.name)
    days = present_habit(ledger, demand, futures.search).bake_days
    now = chosen_rule(line, records.profile, futures, days, SETTINGS).rule
    options = markdown_options(
        line, records.profile, futures, every_kind, now, kinds.bargain,
        price_points(records, line), days, SETTINGS,
    )  # fmt: skip
    if not options:
        return None
    best = next(one for one in options if not one.is_present(line))
    other = line.model_copy(
        update={"reduce_on_day": best.reduce_on_day, "reduced_price": best.reduced_price}
    )
    if best.reduced_price is not None:
        search, judge = (
            at_depth(one, line, best.reduced_price, SETTINGS.seed)
            for one in (futures.search, futures.judge)
        )
        futures = Judging(search, judge)
    rule = chosen_rule(other, records.profile, futures, days, SETTINGS).rule
    start -= timedelta(days=SETTINGS.settling_days)

    def true_loss(of: Line, its_rule: Rule) -> Floats:
        known = replace(truth, kinds=with_reduction(truth.kinds, line, of))
        n_days = SETTINGS.settling_days + 7 * SETTINGS.weeks
        futures = true_futures(known, start, n_days, SETTINGS.settling_days, seed, store)
        return loss(of, labour, futures, its_rule)

    saved = float((true_loss(line, now) - true_loss(other, rule)).mean())
    low, high = np.quantile(best.savings, INTERVAL)
    advice = f"day {other.reduce_on_day} at {other.reduced_price}"
    if other.reduce_on_day is None:
        advice = "never"
    return Weighed(
        kinds.bargain,
        advice,
        not options[0].is_present(line),
        best.saving_week,
        float(low),
        float(high),
        saved,
    )


def with_reduction(kinds: OtherKinds, line: Line, other: Line) -> OtherKinds:
    """Who comes for another reduction of the line."""
    if line.reduced_price is None or other.reduced_price is None:
        return kinds
    times = (line.price - other.reduced_price) / (line.price - line.reduced_price)
    return replace(kinds, bargain_uplift=times * kinds.bargain_uplift)


def loss(line: Line, labour: Labour, futures: Futures, rule: Rule) -> Floats:
    return line_outcome(line, labour, futures, policy_of([rule], futures, line)).money.loss


def main(stores: int, plain: bool) -> None:
    """Print a row a store, and the sums."""
    found = []
    for seed in range(stores):
        one = weighed(seed, plain)
        if one is None:
            print(f"{seed:2d} the logs cannot tell", flush=True)
            continue
        kinds = line_with_kinds(seed, plain).kinds
        told = f"{one.bargain.mean:.2f} [{one.bargain.low:.2f}, {one.bargain.high:.2f}]"
        told += "" if one.bargain.plays else " not told"
        advised = "is advised" if one.is_advised else "is not    "
        doubt = f"[{one.low:.2f}, {one.high:.2f}]"
        missed = "" if one.low <= one.truth <= one.high else " *"
        print(
            f"{seed:2d} bargain {kinds.bargain_uplift:.2f} {told:27s} {one.best:14s} {advised} "
            f"saves {one.stated:6.2f} {doubt}, true {one.truth:6.2f}{missed}",
            flush=True,
        )
        found.append(one)
    print(f"{len(found)} of {stores} told")
    for is_advised in (True, False):
        some = [one for one in found if one.is_advised == is_advised]
        if not some:
            continue
        true = np.array([one.truth for one in some])
        inside = sum(one.low <= one.truth <= one.high for one in some)
        print(
            f"{'advised' if is_advised else 'not advised':11s} {len(some):2d}: stated "
            f"{np.mean([one.stated for one in some]):6.2f} a week, true {true.mean():6.2f}; "
            f"{inside} inside; {(true < 0).sum()} cost money, {true[true < 0].sum():.2f} in all"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3, "plain" in sys.argv[2:])
