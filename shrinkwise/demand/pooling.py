"""What the other lines say of a line's demand before its own days are heard."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Grouping:
    """A grouping within which lines share effects.

    Attributes
    ----------
    group : array of int, shape (n_lines,)
        Group of each line, from 0 on.
    covariance : array of float, shape (n_effects, n_effects)
        Of what a group adds to the effects of its lines.
    """

    group: Ints
    covariance: Floats


@dataclass(frozen=True)
class LinePrior:
    """Normal prior of a line's effects.

    Attributes
    ----------
    mean : array of float, shape (n_effects,)
    covariance : array of float, shape (n_effects, n_effects)
    """

    mean: Floats
    covariance: Floats


def lone_prior(mean: Floats, groups: list[Grouping], own: Floats) -> LinePrior:
    """The prior of a line of which no other line tells anything.

    Parameters
    ----------
    mean : array of float, shape (n_effects,)
    groups : list of Grouping
    own : array of float, shape (n_effects, n_effects)
        Covariance of what a line adds by itself.
    """
    return LinePrior(mean, own + sum((one.covariance for one in groups), np.zeros_like(own)))


def pooled_priors(
    information: Floats, pull: Floats, mean: Floats, groups: list[Grouping], own: Floats
) -> list[LinePrior]:
    """For each line, what is to be expected of it given all the others.

    Effects of a line = mean + one part for each of its groups + its own part, all normal; the
    days of a line are summed up by the quadratic that their log likelihood is near its top
    (Gelman & Hill, *Data Analysis Using Regression and Multilevel/Hierarchical Models*,
    Cambridge 2007, ch. 12 and 13). A line's own days are left out of its prior, so that they
    count once.

    Parameters
    ----------
    information : array of float, shape (n_lines, n_effects, n_effects)
        Minus the second derivatives of each line's log likelihood.
    pull : array of float, shape (n_lines, n_effects)
        Information times the most likely effects.
    mean : array of float, shape (n_effects,)
    groups : list of Grouping
    own : array of float, shape (n_effects, n_effects)

    Returns
    -------
    list of LinePrior
    """
    n_lines, n = pull.shape
    identity = np.eye(n)
    heard = _heard(information, own)
    pulled = np.stack(
        [
            np.linalg.solve(identity + one @ own, by - one @ mean)
            for one, by in zip(information, pull, strict=True)
        ]
    )
    blocks, total = _of_groups(heard, groups)
    toward = np.zeros(total.shape[:2])
    for line in range(n_lines):
        toward[blocks[line]] += pulled[line]
    factor = cho_factor(total.reshape(toward.size, -1))
    between = cho_solve(factor, np.eye(toward.size)).reshape(total.shape)
    middle = cho_solve(factor, toward.ravel()).reshape(toward.shape)
    priors = []
    for line in range(n_lines):
        of_line = blocks[line]
        spread = between[of_line][:, :, of_line].sum(axis=(0, 2))
        precision = np.linalg.inv(spread)
        without = np.linalg.inv(precision - heard[line])
        centre = without @ (precision @ middle[of_line].sum(axis=0) - pulled[line])
        priors.append(LinePrior(mean + centre, own + (without + without.T) / 2))
    return priors


def joint_covariance(
    information: Floats, groups: list[Grouping], own: Floats, asked: Floats
) -> Floats:
    """How far sums of effects lie together, from line to line, in the doubt that is left.

    Of the same joint normal as `pooled_priors`, given the days of all lines: what a group adds to
    the effects is in all of its lines, so that they are wrong together.

    Parameters
    ----------
    information : array of float, shape (n_lines, n_effects, n_effects)
    groups : list of Grouping
    own : array of float, shape (n_effects, n_effects)
    asked : array of float, shape (n_sums, n_lines, n_effects)
        What each effect counts in a sum of a line.

    Returns
    -------
    array of float, shape (n_sums, n_lines, n_lines)
    """
    n_sums, n_lines, n = asked.shape
    blocks, total = _of_groups(_heard(information, own), groups)
    # what becomes of a line's effects when its groups' parts move
    moved = np.stack([np.linalg.inv(np.eye(n) + own @ one) for one in information])
    by_groups = np.einsum("kli,lij->klj", asked, moved)
    placed = np.zeros((len(total), n, n_sums, n_lines))
    for line in range(n_lines):
        placed[blocks[line], :, :, line] = by_groups[:, line].T
    factor = cho_factor(total.reshape(len(total) * n, -1))
    solved = cho_solve(factor, placed.reshape(len(total) * n, -1)).reshape(placed.shape)
    joint = np.einsum("bnkl,bnkm->klm", placed, solved, optimize=True)
    left = np.einsum("kli,ij,klj->kl", by_groups, own, asked, optimize=True)
    joint[:, np.arange(n_lines), np.arange(n_lines)] += left
    return np.asarray(joint)


def _heard(information: Floats, own: Floats) -> Floats:
    """Information of each line on the sum of its groups' parts, its own part integrated out."""
    identity = np.eye(len(own))
    known = np.stack([one @ np.linalg.inv(identity + own @ one) for one in information])
    return np.asarray((known + known.transpose(0, 2, 1)) / 2)


def _of_groups(heard: Floats, groups: list[Grouping]) -> tuple[Ints, Floats]:
    """The blocks of each line, shape (n_lines, n_groupings), and the precision of all blocks'
    parts given all lines, shape (n_blocks, n_effects, n_blocks, n_effects)."""
    n_lines, n, _ = heard.shape
    sizes = [int(one.group.max()) + 1 for one in groups]
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    blocks = np.stack([at + one.group for at, one in zip(first, groups, strict=True)], axis=1)
    total = np.zeros((sum(sizes), n, sum(sizes), n))
    for at, size, one in zip(first, sizes, groups, strict=True):
        for block in range(at, at + size):
            total[block, :, block, :] = np.linalg.inv(one.covariance)
    for line in range(n_lines):
        for row in blocks[line]:
            for column in blocks[line]:
                total[row, :, column, :] += heard[line]
    return blocks, total
