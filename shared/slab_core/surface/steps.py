"""What the fit makes of each joint: its coefficients, and the step where it is largest."""

from dataclasses import replace

import numpy as np
from scipy.linalg import cho_solve

from slab_core.numerics.grid import Floats
from slab_core.surface.joints import COLUMNS, step_columns
from slab_core.surface.model import JointStep, SplineJoint
from slab_core.surface.posterior import Posterior

PLACES = 41


def with_coefficients(found: Posterior) -> tuple[SplineJoint, ...]:
    """The joints of the fit with their coefficients."""
    own = found.beside[: COLUMNS * len(found.design.joints)].reshape(-1, COLUMNS).tolist()
    return tuple(
        replace(joint, coefficient=tuple(row)) for joint, row in zip(found.design.joints, own, strict=True)
    )


def joint_covariance(found: Posterior, *, noise: float) -> Floats:
    """Covariance of all joints' coefficients and of the shared errors, shape (m, m)."""
    return np.asarray(noise * cho_solve((found.schur, True), np.eye(len(found.schur))))


def joint_steps(*, found: Posterior, noise: float) -> tuple[JointStep, ...]:
    """Each joint's largest step, with its standard error."""
    if not len(found.schur):
        return ()
    covariance = joint_covariance(found, noise=noise)
    share = np.linspace(0.0, 1.0, PLACES)
    steps = []
    for i, joint in enumerate(found.design.joints):
        part = slice(i * COLUMNS, (i + 1) * COLUMNS)
        values = step_columns(joint=joint, share=share)
        height = values @ found.beside[part]
        k = int(np.abs(height).argmax())
        variance = float(values[k] @ covariance[part, part] @ values[k])
        x, y = (a + share[k] * (b - a) for a, b in zip(joint.start, joint.end, strict=True))
        steps.append(
            JointStep(
                room=joint.room,
                joint=joint.id,
                at=(float(x), float(y)),
                height_m=float(height[k]),
                sd_m=float(np.sqrt(variance)),
            )
        )
    return tuple(steps)
