"""Steps at declared joints. The straightedge crosses a joint as it does on site, so its gap counts too."""

from slab_core.rooms.model import Floor
from slab_core.surface.model import JointStep, Surface
from slab_core.tolerance.model import StepAtJoint
from slab_core.tolerance.places import walls_from


def steps_at_joints(*, floor: Floor, surface: Surface) -> tuple[StepAtJoint, ...]:
    """Every joint's step, the highest first."""
    ordered = sorted(surface.steps, key=lambda step: (-abs(step.height_m), step.room, step.joint))
    return tuple(_at_joint(step, floor=floor) for step in ordered)


def _at_joint(step: JointStep, *, floor: Floor) -> StepAtJoint:
    return StepAtJoint(
        room=step.room,
        joint=step.joint,
        at=step.at,
        height_m=abs(step.height_m),
        sd_m=step.sd_m,
        higher="left" if step.height_m >= 0 else "right",
        walls=walls_from(floor=floor, at=step.at),
    )
