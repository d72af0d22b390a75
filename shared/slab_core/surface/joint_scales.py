"""How large the step and the kink at each joint are: a mixture over scales, weighed by their likelihood.

Most joints hardly step at all, a few by 1/4 in. One wide prior for all would let a joint that does nothing
swing with the noise where readings are few; one narrow prior would smear the joint that does step.
"""

from dataclasses import dataclass, field
from itertools import product

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.surface.joints import COLUMNS, STEP_COLUMNS

STEP_SCALES, STEP_SHARES = (0.05, 0.15, 0.5, 1.5), (0.45, 0.4, 0.12, 0.03)
"""Times STEP_SDS_M of joints.py, steps of about 0.5, 1.5, 5 and 15 mm, and how common they are
(common practice, no single source)."""

KINK_SCALES, KINK_SHARES = (0.5, 2.0, 6.0), (0.4, 0.4, 0.2)
"""Times KINK_SDS of joints.py: changes of slope of about 1.5, 6 and 18 mm/m, the last where edges curl."""

OVERDISPERSION = 2.0
"""Squared errors of the smooth surface on slabs with wall bands, ridges and trenches are about twice what its
likelihood believes (measured on invented slabs), so its evidence counts half."""

ROUNDS = 3
LEAST_SQUARES = 1e-12
LEAST_SHARE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointEvidence:
    """The joints' normal equations after the smooth part is solved for: `gram`, shape (m, m), and `right`,
    shape (m,); `squares` is what is left over without joints, for `freedom` degrees of freedom. The last
    `shared` columns are errors that readings share, of unit size. `known` keeps what was worked out."""

    gram: Floats
    right: Floats
    squares: float
    freedom: float
    shared: int = 0
    known: dict[tuple[float, ...], float] = field(default_factory=dict)

    def solved(self, scales: Floats) -> tuple[Floats, Floats]:
        """Means (c, m) and covariances (c, m, m) of the coefficients under c rows of scales, unit noise."""
        covariances = np.linalg.inv(self._system(scales))
        return covariances @ self.right, np.asarray(covariances)

    def misfit(self, scales: Floats) -> Floats:
        """What the joints add to −2 times the log likelihood under each row of scales; noise profiled out."""
        lower = self._lower(scales)
        sizes = np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1) + np.log(scales).sum(axis=1)
        return np.asarray(self.freedom * np.log(self._noise(lower)) + 2.0 * sizes)

    def noise(self, scales: Floats) -> Floats:
        """The likeliest multiple of the stated variances under each row of scales."""
        return self._noise(self._lower(scales))

    def _lower(self, scales: Floats) -> Floats:
        return np.asarray(np.linalg.cholesky(self._system(scales)))

    def _system(self, scales: Floats) -> Floats:
        size = len(self.right)
        prior = np.ones((len(scales), size))
        prior[:, : size - self.shared] = 1.0 / np.square(scales)
        systems = np.repeat(self.gram[None], len(scales), axis=0)
        systems[:, np.arange(size), np.arange(size)] += prior
        return systems

    def _noise(self, lower: Floats) -> Floats:
        explained = np.square(np.linalg.solve(lower, self.right[:, None])).sum(axis=(1, 2))
        return np.asarray(np.maximum(LEAST_SQUARES, self.squares - explained) / self.freedom)

    def against(self, scales: Floats) -> Floats:
        """−2 times the log posterior of each row of scales; what is smaller is likelier."""
        keys = [tuple(row) for row in scales.tolist()]
        new = [i for i, key in enumerate(keys) if key not in self.known]
        if new:
            found = self._against(scales[new]).tolist()
            self.known.update(zip((keys[i] for i in new), found, strict=True))
        return np.array([self.known[key] for key in keys])

    def _against(self, scales: Floats) -> Floats:
        steps = np.searchsorted(STEP_SCALES, scales[:, ::COLUMNS])
        kinks = np.searchsorted(KINK_SCALES, scales[:, STEP_COLUMNS::COLUMNS])
        shares = np.log(STEP_SHARES)[steps].sum(axis=1) + np.log(KINK_SHARES)[kinks].sum(axis=1)
        return np.asarray(self.misfit(scales) / OVERDISPERSION - 2.0 * shares)


def start_scales(*, joints: int) -> Floats:
    """Scales to search from, shape (COLUMNS · joints,)."""
    return np.tile(_one(STEP_SCALES[1], KINK_SCALES[1]), joints)


def likeliest_scales(evidence: JointEvidence, *, start: Floats) -> Floats:
    """The likeliest scales: one joint's at a time until none changes."""
    scales, best = start, float(evidence.against(start[None])[0])
    for _ in range(ROUNDS):
        others = _one_joint_changed(scales)
        against = evidence.against(others)
        if not len(others) or against.min() >= best - 1e-9:
            break
        scales, best = others[against.argmin()], float(against.min())
    return scales


def mixture(evidence: JointEvidence, *, scales: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance, for unit noise, over the likeliest `scales` and all that differ in one joint."""
    candidates = np.vstack([scales, _one_joint_changed(scales)])
    against = evidence.against(candidates)
    share = np.exp(-0.5 * (against - against.min()))
    share /= share.sum()
    means, covariances = evidence.solved(candidates[share > LEAST_SHARE])
    share = share[share > LEAST_SHARE]
    mean = share @ means
    away = means - mean
    covariance = np.tensordot(share, covariances, axes=1) + (share[:, None] * away).T @ away
    return np.asarray(mean), np.asarray(covariance)


def _one_joint_changed(scales: Floats) -> Floats:
    """All scales that differ in those of one joint, one in a row."""
    changed = [np.empty((0, len(scales)))]
    for first in range(0, len(scales), COLUMNS):
        own = slice(first, first + COLUMNS)
        other = EVERY[(scales[own] != EVERY).any(axis=1)]
        rows = np.tile(scales, (len(other), 1))
        rows[:, own] = other
        changed.append(rows)
    return np.vstack(changed)


def _one(step: float, kink: float) -> Floats:
    return np.repeat([step, kink], [STEP_COLUMNS, COLUMNS - STEP_COLUMNS])


EVERY = np.stack([_one(step, kink) for step, kink in product(STEP_SCALES, KINK_SCALES)])
"""All scales of one joint, one in a row."""
