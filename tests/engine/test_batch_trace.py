"""Accounts of what left at which age: their pieces by trying everything, and by hand."""

import numpy as np
import pytest
from numpy.typing import NDArray

from shrinkwise.engine.batch_trace import Account, Seen, accounts_of, reduced_bounds

Ints = NDArray[np.int64]
ACCOUNTS, PARTICLES = 200, 20


@pytest.mark.parametrize(
    ("there", "reduced", "sold", "told"),
    [(20, 6, 8, 2), (20, 6, 8, 0), (20, 6, 8, 6), (10, 6, 8, 4), (10, 6, 8, 6), (8, 3, 8, 3)],
)
def test_bounds_hold_the_shoppers_that_take_so_many_reduced(
    there: int, reduced: int, sold: int, told: int
) -> None:
    """Against trying every number of oldest-first shoppers, unit by unit from the oldest."""
    fit = []
    for k in range(sold + 1):
        taken = set(range(k)) | set(range(there - (sold - k), there))
        if sum(unit < reduced for unit in taken) == told:
            fit.append(k)
    assert reduced_bounds(there, reduced, sold, told) == (fit[0], fit[-1], True)


@pytest.mark.parametrize("told", [7, 9])
def test_more_reduced_than_there_were_is_impossible(told: int) -> None:
    assert not reduced_bounds(20, 6, 9, told)[2]


def test_fewer_reduced_than_shoppers_had_to_take_are_impossible() -> None:
    """Of 10 units 6 are reduced; 8 shoppers cannot leave 3 of them."""
    assert not reduced_bounds(10, 6, 8, 3)[2]


def seen(
    life: int,
    baked: list[int],
    sold: list[int],
    thrown: list[int],
    on_hand: list[int],
    **more: object,
) -> Seen:
    n = len(baked)
    told = {
        "sold_reduced": np.full(n, -1),
        "early": np.zeros(n, np.int64),
        "early_by_age": np.zeros((n, life), np.int64),
        "labelled_by_age": np.full((n, life), -1),
    } | more
    return Seen(np.array(baked), np.array(sold), np.array(thrown), np.array(on_hand), **told)  # type: ignore[arg-type]


def told(days: Seen, life: int, reduce_age: int, share: float, trusted_from: int = 0) -> Account:
    chances = np.random.default_rng(1).random((ACCOUNTS, len(days.sold), PARTICLES + 2))
    shares = np.full(ACCOUNTS, share)
    return accounts_of(days, life, reduce_age, shares, chances, 1e-6, trusted_from)


def test_what_is_thrown_tells_who_bought_the_day_before() -> None:
    """10 baked, 4 sold; 10 baked, 6 sold; 4 of the first thrown at night: 2 of the 6 were old."""
    days = seen(3, [10, 10, 0], [4, 6, 0], [0, 0, 4], [6, 10, 6])
    account = told(days, 3, 3, 0.5)
    right = (account.sold[:, 1] == [4, 2, 0]).all(axis=1)
    assert right.mean() > 0.99
    assert account.disposed[right, 2].tolist() == [[0, 0, 4]] * right.sum()
    assert account.left[right].tolist() == [[0, 0, 6]] * right.sum()


def test_reduced_sales_tell_which_batch_they_were_of() -> None:
    """As much of the second day's 6 sales as the till calls reduced was of the old batch."""
    for reduced in (0, 3, 6):
        sold_reduced = np.array([0, reduced])
        days = seen(3, [10, 10], [4, 6], [0, 0], [6, 10], sold_reduced=sold_reduced)
        account = told(days, 3, 1, 0.5)
        assert account.sold[:, 1].tolist() == [[6 - reduced, reduced, 0]] * ACCOUNTS


def test_labels_with_a_bake_date_weigh_the_shelf() -> None:
    """Day 3 sells 1 and throws 2 of the first batch, of which 2 or 3 were left: labels say 2."""
    labelled = np.full((3, 3), -1)
    labelled[2, 2] = 2
    plain = seen(3, [10, 10, 0], [4, 6, 1], [0, 0, 2], [6, 10, 7])
    free = told(plain, 3, 3, 0.5).sold[:, 1, 1]
    old = told(plain._replace(labelled_by_age=labelled), 3, 3, 0.5).sold[:, 1, 1]
    assert set(free) == {3, 4}
    assert (old == 4).mean() > (free == 4).mean() + 0.2


def test_early_disposals_leave_at_the_age_their_bake_date_says() -> None:
    early = np.zeros((2, 3), np.int64)
    early[1, 1] = 3
    days = seen(3, [10, 10], [4, 0], [0, 0], [6, 13], early_by_age=early)
    account = told(days, 3, 3, 0.5)
    assert account.disposed[:, 1].tolist() == [[0, 3, 0]] * ACCOUNTS
    assert account.left.tolist() == [[0, 10, 3]] * ACCOUNTS


def test_more_early_disposals_of_an_age_than_there_were_are_of_another() -> None:
    early = np.zeros((2, 3), np.int64)
    early[1, 1] = 8
    days = seen(3, [10, 10], [4, 0], [0, 0], [6, 8], early_by_age=early)
    account = told(days, 3, 3, 0.5)
    assert set(map(tuple, account.disposed[:, 1])) == {(2, 6, 0)}


@pytest.mark.parametrize("life", [1, 2, 4])
def test_every_unit_is_accounted_for(life: int) -> None:
    """Logs that contradict each other: baked and found = sold, disposed, missing and left."""
    rng = np.random.default_rng(life)
    n = 60
    days = seen(
        life,
        list(rng.poisson(9, n)),
        list(rng.poisson(7, n)),
        list(rng.poisson(1, n)),
        list(rng.poisson(5, n) if life > 1 else [0] * n),
        early=rng.poisson(0.3, n),
        sold_reduced=rng.integers(-1, 3, n),
    )
    account = told(days, life, max(life - 1, 1), 0.5, life)
    for units in account:
        assert (units >= 0).all()
    assert (account.disposed.sum(axis=2) >= days.thrown).all()
    # batch by batch nothing is lost: what an age passes on is what the next one starts with
    for one in range(3):
        stock = np.zeros(life, np.int64)
        for day in range(n):
            stock[0] = days.baked[day]
            gone = (account.sold + account.disposed + account.missing)[one, day]
            rest = stock - gone
            assert (rest[:-1] >= 0).all()
            stock = np.concatenate([[0], rest[:-1]])
            if life > 1:
                assert account.found[one, day, 0] == days.on_hand_close[day] - stock.sum()
                stock[1] += account.found[one, day, 0]
            assert account.found[one, day, -1] == max(-rest[-1], 0)
        assert account.left[one].tolist() == stock.tolist()


def test_the_same_chances_give_the_same_accounts() -> None:
    days = seen(3, [10, 10, 5], [4, 6, 7], [0, 0, 1], [6, 10, 7])
    one, two = told(days, 3, 2, 0.4), told(days, 3, 2, 0.4)
    assert all((a == b).all() for a, b in zip(one, two, strict=True))
