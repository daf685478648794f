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
    # information of a line on the sum of its groups' parts, its own part integrated out
    known = np.stack([one @ np.linalg.inv(identity + own @ one) for one in information])
    known = (known + known.transpose(0, 2, 1)) / 2
    pulled = np.stack(
        [
            np.linalg.solve(identity + one @ own, by - one @ mean)
            for one, by in zip(information, pull, strict=True)
        ]
    )
    sizes = [int(one.group.max()) + 1 for one in groups]
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    blocks = np.stack([at + one.group for at, one in zip(first, groups, strict=True)], axis=1)
    total = np.zeros((sum(sizes), n, sum(sizes), n))
    for at, size, one in zip(first, sizes, groups, strict=True):
        for block in range(at, at + size):
            total[block, :, block, :] = np.linalg.inv(one.covariance)
    toward = np.zeros((sum(sizes), n))
    for line in range(n_lines):
        for row in blocks[line]:
            toward[row] += pulled[line]
            for column in blocks[line]:
                total[row, :, column, :] += known[line]
    factor = cho_factor(total.reshape(sum(sizes) * n, -1))
    between = cho_solve(factor, np.eye(sum(sizes) * n)).reshape(total.shape)
    middle = cho_solve(factor, toward.ravel()).reshape(toward.shape)
    priors = []
    for line in range(n_lines):
        of_line = blocks[line]
        spread = between[of_line][:, :, of_line].sum(axis=(0, 2))
        precision = np.linalg.inv(spread)
        without = np.linalg.inv(precision - known[line])
        centre = without @ (precision @ middle[of_line].sum(axis=0) - pulled[line])
        priors.append(LinePrior(mean + centre, own + (without + without.T) / 2))
    return priors
