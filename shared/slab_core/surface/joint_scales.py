"""How large the step and the kink at each joint are: a mixture over scales, weighed by their likelihood.

Most joints hardly step at all, a few by 1/4 in. One wide prior for all would let a joint that does nothing
swing with the noise where readings are few; one narrow prior would smear the joint that does step.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product

import numpy as np
from scipy.linalg import cho_factor, cho_solve

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
        """Mean and covariance, for unit noise, of the coefficients under the scales."""
        factor = cho_factor(self.gram + self._prior(scales), lower=True)
        eye = np.eye(len(self.right))
        return np.asarray(cho_solve(factor, self.right)), np.asarray(cho_solve(factor, eye))

    def misfit(self, scales: Floats) -> float:
        """What the joints add to −2 times the log likelihood, the noise profiled out."""
        lower = self._lower(scales)
        determinant = 2.0 * (np.log(np.diag(lower)).sum() + np.log(scales).sum())
        return float(self.freedom * np.log(self._noise(lower)) + determinant)

    def noise(self, scales: Floats) -> float:
        """The likeliest multiple of the stated variances under the scales."""
        return self._noise(self._lower(scales))

    def _lower(self, scales: Floats) -> Floats:
        return np.asarray(np.linalg.cholesky(self.gram + self._prior(scales)))

    def _prior(self, scales: Floats) -> Floats:
        return np.diag(np.concatenate([1.0 / np.square(scales), np.ones(self.shared)]))

    def _noise(self, lower: Floats) -> float:
        explained = float(np.square(np.linalg.solve(lower, self.right)).sum())
        return max(LEAST_SQUARES, self.squares - explained) / self.freedom

    def against(self, scales: Floats) -> float:
        """−2 times the log posterior of the scales; what is smaller is likelier."""
        key = tuple(scales)
        if key not in self.known:
            self.known[key] = self._against(scales)
        return self.known[key]

    def _against(self, scales: Floats) -> float:
        steps = [STEP_SHARES[STEP_SCALES.index(s)] for s in scales[::COLUMNS]]
        kinks = [KINK_SHARES[KINK_SCALES.index(s)] for s in scales[STEP_COLUMNS::COLUMNS]]
        return self.misfit(scales) / OVERDISPERSION - 2.0 * float(np.log([*steps, *kinks]).sum())


def start_scales(*, joints: int) -> Floats:
    """Scales to search from, shape (COLUMNS · joints,)."""
    return np.tile(_one(STEP_SCALES[1], KINK_SCALES[1]), joints)


def likeliest_scales(evidence: JointEvidence, *, start: Floats) -> Floats:
    """The likeliest scales: one joint's at a time until none changes."""
    scales, best = start, evidence.against(start)
    for _ in range(ROUNDS):
        before = scales
        for other in _one_joint_changed(before):
            now = evidence.against(other)
            if now < best - 1e-9:
                best, scales = now, other
        if scales is before:
            break
    return scales


def mixture(evidence: JointEvidence, *, scales: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance, for unit noise, over the likeliest `scales` and all that differ in one joint."""
    candidates = [scales, *_one_joint_changed(scales)]
    against = np.array([evidence.against(other) for other in candidates])
    share = np.exp(-0.5 * (against - against.min()))
    share /= share.sum()
    found = [(s, *evidence.solved(other)) for s, other in zip(share, candidates, strict=True) if s > 1e-6]
    mean = np.asarray(sum(s * own for s, own, _ in found))
    covariance = sum(s * (spread + np.outer(own - mean, own - mean)) for s, own, spread in found)
    return mean, np.asarray(covariance)


def _one_joint_changed(scales: Floats) -> Iterator[Floats]:
    for first in range(0, len(scales), COLUMNS):
        for step, kink in product(STEP_SCALES, KINK_SCALES):
            other = scales.copy()
            other[first : first + COLUMNS] = _one(step, kink)
            if (other != scales).any():
                yield other


def _one(step: float, kink: float) -> Floats:
    return np.repeat([step, kink], [STEP_COLUMNS, COLUMNS - STEP_COLUMNS])
