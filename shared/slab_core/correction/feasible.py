"""Which planes the limits and the doorways allow, as rows of a linear programme."""

from dataclasses import dataclass

import numpy as np

from slab_core.correction.family import Row
from slab_core.correction.kernels import extremes
from slab_core.correction.linear import LinearProgramme
from slab_core.correction.thresholds import DoorRange
from slab_core.correction.work import SKIN_MM, Case
from slab_core.numerics.grid import Floats

TOUCH_MM = 1e-6
A_B_C: Floats = np.eye(3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Caps:
    """Fill depth d = plane - slab must stay in -grind_mm <= d <= fill_mm at every node, shape (n,)."""

    grind_mm: Floats
    fill_mm: Floats


def caps_of(case: Case) -> Caps:
    """What no allowed plane breaks; a low patch no deeper than the skin may be left where fill is not
    allowed, while a high one counts as ground, since a rule may yet ask for it."""
    return caps(case, grind_mm=case.grind_cap_mm, fill_mm=max(case.fill_cap_mm, SKIN_MM))


def caps(case: Case, *, grind_mm: float, fill_mm: float) -> Caps:
    """The same depths at all nodes, but in keep-out zones where nothing is ground no more than a skin, which
    is left, and where nothing is done what may be left there, whatever the depths are elsewhere."""
    nodes = case.nodes
    grind = np.where(nodes.unground, min(grind_mm, SKIN_MM), grind_mm)
    return Caps(
        grind_mm=np.where(nodes.unfilled, case.left_mm, grind),
        fill_mm=np.where(nodes.unfilled, case.left_mm, fill_mm),
    )


def door_rows(*, case: Case, door: DoorRange) -> list[Row]:
    """The range at both ends of the line."""
    x, y = np.array(door.ends()).T
    u, v = case.nodes.scaled(x=x, y=y)
    return [(np.array([1.0, u[k], v[k]]), door.low_m * 1e3, door.high_m * 1e3) for k in range(2)]


def add_broken_caps(
    *,
    programme: LinearProgramme,
    case: Case,
    caps: Caps,
    abc_mm: Floats,
    basis: Floats = A_B_C,
    more: int = 0,
) -> float:
    """Add the row of the node that breaks each cap most; the violation in mm, 0 if none.

    (a, b, c) = basis @ the programme's first three variables; `more` others do not enter these rows.
    """
    nodes, worst = case.nodes, 0.0
    low, high = extremes(nodes.u, nodes.v, nodes.z_mm, caps.grind_mm, caps.fill_mm, abc_mm)
    for n, sign, cap in ((low, -1.0, caps.grind_mm[low]), (high, 1.0, caps.fill_mm[high])):
        row = np.array([1.0, nodes.u[n], nodes.v[n]])
        excess = sign * (float(row @ abc_mm) - nodes.z_mm[n]) - cap
        if excess > TOUCH_MM:
            worst = max(worst, float(excess))
            wide = np.concatenate([sign * row @ basis, np.zeros(more)])
            programme.add_row(coefficients=wide, high=float(cap + sign * nodes.z_mm[n]))
    return worst
