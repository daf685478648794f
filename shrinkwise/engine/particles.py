"""What both particle filters do with a shelf and its weights, one step each (numba)."""

from numba import njit


@njit(cache=True, nogil=True)
def dispose_early(stock, by_age, unknown, chance, gone):  # type: ignore[no-untyped-def]
    """Take off what is disposed of before its last day, as if before the shoppers come.

    Units of unknown age lie side by side, anywhere on the shelf from the oldest to the freshest.
    `gone` is filled by age; returns the units that are left.
    """
    there = 0
    for age in range(len(stock)):
        gone[age] = min(stock[age], by_age[age])
        unknown += by_age[age] - gone[age]
        stock[age] -= gone[age]
        there += stock[age]
    unknown = min(unknown, there)
    if unknown > 0:
        # the last bits of a chance are as good as another one
        first = int((chance * 65536.0) % 1.0 * (there - unknown + 1))
        passed = 0
        for age in range(len(stock) - 1, -1, -1):
            begin = passed
            passed += stock[age]
            taken = max(min(passed, first + unknown) - max(begin, first), 0)
            gone[age] += taken
            stock[age] -= taken
    return there - unknown


@njit(cache=True, nogil=True)
def bounds(there, oldest, sold, thrown):  # type: ignore[no-untyped-def]
    """Oldest-first shoppers of the day, least and most, that leave what is thrown at night.

    What is thrown is `oldest` less these shoppers, held between 0 and what nobody took.
    """
    rest = max(there - sold, 0)
    low = max(oldest - thrown, 0) if thrown < rest else 0
    high = min(oldest - thrown, sold) if thrown > 0 else sold
    if low <= high and thrown <= oldest and thrown <= rest:
        return low, high, True
    return 0, sold, False


@njit(cache=True, nogil=True)
def drawn(below, low, high, target):  # type: ignore[no-untyped-def]
    """The first count from `low` to `high` whose distribution reaches the target, else `high`."""
    while low < high:
        middle = (low + high) // 2
        if below[middle + 1] < target:
            low = middle + 1
        else:
            high = middle
    return low


@njit(cache=True, nogil=True)
def binomial_cdf(n, p, below):  # type: ignore[no-untyped-def]
    """Chance of fewer than k of n, for k from 0 to n + 1; p is above 0 and below 1.

    The terms grow from the largest on by their ratios and are divided by their sum, so that
    nothing overflows and rounding stays far below 1e-12.
    """
    odds = p / (1 - p)
    peak = min(int((n + 1) * p), n)
    below[0] = 0.0
    below[peak + 1] = 1.0
    for k in range(peak, n):
        below[k + 2] = below[k + 1] * odds * (n - k) / (k + 1)
    for k in range(peak, 0, -1):
        below[k] = below[k + 1] * k / (odds * (n - k + 1))
    for k in range(1, n + 2):
        below[k] += below[k - 1]
    total = below[n + 1]
    for k in range(1, n + 2):
        below[k] /= total


@njit(cache=True, nogil=True)
def pick_unequal(weights, total, u, picked):  # type: ignore[no-untyped-def]
    """Let the weights add up to 1; where they are too unequal, pick who goes on (systematic).

    Each particle is picked as often as its weight asks, and all weigh the same again. Returns
    whether that was needed; else each picks itself.
    """
    n_particles, squares = len(weights), 0.0
    for p in range(n_particles):
        picked[p] = p
        weights[p] /= total
        squares += weights[p] * weights[p]
    if not 1 / squares < n_particles / 2:
        return False
    one, upto = 0, weights[0]
    for p in range(n_particles):
        while upto < (p + u) / n_particles and one + 1 < n_particles:
            one += 1
            upto += weights[one]
        picked[p] = one
    for p in range(n_particles):
        weights[p] = 1 / n_particles
    return True
