"""Compile what has to be compiled, before a worker forks."""

from slab_core.correction import warm as correction
from slab_core.layout import warm as layout
from slab_core.numerics import patterns
from slab_core.scans import warm as scans
from slab_core.schedule import warm as schedule
from slab_core.surface import warm as surface
from slab_core.tolerance import warm as tolerance


def warm() -> None:
    """Run every kernel of the line, and of the firm's schedule, once on a tiny input.

    No solver runs here: they do not survive a fork.
    """
    scans.warm()
    surface.warm()
    tolerance.warm()
    correction.warm()
    layout.warm()
    schedule.warm()
    patterns.warm()
