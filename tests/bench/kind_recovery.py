"""How often the 90% intervals of the kinds of shoppers hold the truth of generated stores.

Run by hand, some four seconds a store: `python tests/bench/kind_recovery.py 50` looks at the first
50 stores, with a second number at as many from that one on. Each store has one line, with another
truth (`line_with_kinds`). With `plain` behind the numbers there are no other kinds, to see how
often one is taken to be there that is not; with `order`, shoppers of a day come in any order and
not kind by kind, as the fit takes for granted.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from generated import line_with_kinds, records_of, store_of

from shrinkwise.demand.model import fit_demand
from shrinkwise.records.ledger import stock_ledger
from shrinkwise.shelf.dated import early_by_age
from shrinkwise.shelf.kind_fit import FIT_SEED, SUSPICIOUS, kind_evidence, suspicion
from shrinkwise.shelf.kind_posterior import FUSSY, OLDEST, SWITCHING, UPLIFT
from shrinkwise.shelf.share import share_posterior

KINDS = {OLDEST: "oldest-first", FUSSY: "fussy", SWITCHING: "switching", UPLIFT: "bargain"}


def main(stores: range, plain: bool, in_any_order: bool) -> None:
    """Print a row a store, and the table."""
    told: dict[int, list[tuple[float, float, float, float, bool]]] = {kind: [] for kind in KINDS}
    suspected = 0
    for seed in stores:
        line = line_with_kinds(seed, plain, in_any_order)
        records = records_of(store_of(line), seed)
        demand, ledger = fit_demand(records), stock_ledger(records)[line.name]
        alone = share_posterior(ledger, FIT_SEED, early_by_age(records, ledger))
        found = kind_evidence(records, ledger, demand, alone, close=True)
        suspected += suspicion(found, alone) > SUSPICIOUS
        draws, kinds = found.draws, line.kinds
        if draws is None:
            continue
        free = (True, *found.free)
        truth = (
            line.oldest_first_share,
            kinds.fussy_share,
            kinds.switching_share,
            kinds.bargain_uplift,
        )
        said = []
        for kind, true in zip(KINDS, truth, strict=True):
            if free[kind]:
                low, high = draws.quantile(kind, 0.05), draws.quantile(kind, 0.95)
                clear = kind == OLDEST or found.is_clear(kind)
                told[kind].append((true, draws.mean(kind), low, high, clear))
                missed = "" if low <= true <= high else " *"
                said.append(f"{true:.2f} {draws.mean(kind):.2f} [{low:.2f}, {high:.2f}]{missed}")
        print(f"{seed:3d} life {line.coded_life_days}  {'  '.join(said)}", flush=True)
    print(f"{suspected} of {len(stores)} suspected")
    for kind, name in KINDS.items():
        if not told[kind]:
            continue
        true, mean, low, high, clear = np.array(told[kind]).T
        inside = (low <= true) & (true <= high)
        print(
            f"{name:12s} told {len(true):2d}, inside {100 * inside.mean():3.0f}%, clear "
            f"{int(clear.sum()):2d}, median width {np.median(high - low):.2f}, mean error "
            f"{(mean - true).mean():+.3f}"
        )


if __name__ == "__main__":
    numbers = [int(one) for one in sys.argv[1:] if one.isdigit()]
    how_many, first = numbers + [3, 0][len(numbers) :]
    main(range(first, first + how_many), "plain" in sys.argv, "order" in sys.argv)
