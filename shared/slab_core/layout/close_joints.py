"""Where joints stand too close to others of the rows before them."""

from collections.abc import Mapping, Sequence

from slab_core.layout.distances import ROW_AFTER_NEXT_M
from slab_core.layout.model import CloseJoint

_FITS_M = 1e-9
_TOLD = 6


def close_joints(*, joints: Mapping[int, Sequence[float]], stagger_m: float) -> tuple[CloseJoint, ...]:
    """Every pair, in laying order. `joints`: row to places along it, metres."""
    return tuple(
        CloseJoint(row=row, at_m=at, near_row=row - back, near_at_m=near)
        for row in sorted(joints)
        for at in sorted(joints[row])
        for back, apart_m in ((1, stagger_m), (2, ROW_AFTER_NEXT_M))
        for near in sorted(joints.get(row - back, ()))
        if abs(at - near) < apart_m - _FITS_M
    )


def places_told(close: Sequence[CloseJoint]) -> str:
    """The first of them in words."""
    told = "; ".join(
        f"row {joint.row} at {joint.at_m:.3f} m, {abs(joint.at_m - joint.near_at_m) * 1000:.0f} mm from "
        f"row {joint.near_row} at {joint.near_at_m:.3f} m"
        for joint in close[:_TOLD]
    )
    return f"{told}; and {len(close) - _TOLD} more" if len(close) > _TOLD else told
