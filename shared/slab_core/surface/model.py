"""The fitted surface of one floor."""

from dataclasses import dataclass, field

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Grid, Ints, Mask
from slab_core.rooms.model import Point, Ring


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceOptions:
    """How finely to draw the result; None lets the size of the floor decide."""

    grid_step_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SplineJoint:
    """A joint across which the surface steps and kinks. `coefficient` scales the columns of joints.py.

    The step runs on behind either end by `beyond_..._m`, unseen, where a wall stands; 0 where the joint
    ends on open floor.
    """

    room: str
    id: str
    start: Point
    end: Point
    beyond_start_m: float
    beyond_end_m: float
    coefficient: tuple[float, ...]
    kink_reach_m: float = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """What the slab does between readings, of relief.py: its variance beside the usual, and the walls."""

    scale: float
    walls: tuple[Ring, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Change:
    """What was ground off and poured on since the slab was first measured, of change.py: `height` by which a
    node stands higher than then (0.01 mm steps), shape (ny, nx). Nodes of one `part` go over into one
    another; from part to part the slab may step."""

    grid: Grid
    height: Ints
    part: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spline:
    """Tensor cubic B-spline, from which samples of the surface can be drawn again.

    Knots are `knot_step_m` apart; coefficient (j, i) belongs to the basis functions that start
    (i - 3, j - 3) knots from (x0_m, y0_m). Observations kept as used in the fit, with their final
    weights, so that the posterior can be rebuilt: `smoothing` times the energy of energy.py, which
    weighs the change of bending by `bending_change_m2`. What `joints` add is not in the coefficients;
    theirs, and behind them those of the errors that observations share (`shared` times `obs_shared_m`),
    have the `joint_covariance`, in the joints' order. `bias_sd_m` is an error of all
    readings that more of them do not lessen. `obs_sd_m` is as the fit finds it, `obs_claimed_m` what was
    stated of the instrument; both are empty for a floor that is known without readings. Where work was done
    the spline tells the slab before it, and its observations are as of then: the `change` is put on top.
    """

    x0_m: float
    y0_m: float
    knot_step_m: float
    coefficient_m: Floats
    smoothing: float
    obs_x_m: Floats
    obs_y_m: Floats
    obs_weight: Floats
    obs_value_m: Floats
    obs_sd_m: Floats
    joints: tuple[SplineJoint, ...] = ()
    bending_change_m2: float = 0.0
    joint_covariance: Floats = field(default_factory=lambda: np.empty((0, 0)))
    obs_shared_m: Floats = field(default_factory=lambda: np.empty((0, 0)))
    shared: tuple[float, ...] = ()
    relief: Relief | None = None
    bias_sd_m: float = 0.0
    change: Change | None = None
    obs_claimed_m: Floats = field(default_factory=lambda: np.empty(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Misread:
    """A reading that the others contradict; it was left out of the fit and is reported."""

    pointer: str
    x_m: float
    y_m: float
    residual_m: float
    expected_sd_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsPlane:
    """The plain least-squares plane through the heights as they were read, misreads and all.

    Each height counts once, so it leans towards where more was read; the fall of the floor itself is in the
    tolerance report. `residual_m` is the root of the mean square, `largest_m` the largest residual.
    """

    slope_x: float
    slope_y: float
    slope_x_sd: float
    slope_y_sd: float
    residual_m: float
    largest_m: float
    heights: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JointStep:
    """The step at a joint where it is largest: left less right, seen from the joint's start."""

    room: str
    joint: str
    at: Point
    height_m: float
    sd_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SuspectedStep:
    """A line where the readings look like a step that nobody declared: left less right, seen from its start.

    It is only suggested; the surface is as smooth there as if it were not.
    """

    start: Point
    end: Point
    height_m: float
    sd_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """Heights (0.01 mm steps) and standard errors (0.001 mm steps) at the grid's nodes, shape (ny, nx).

    Nodes outside the floor are False in `inside` and hold the spline's continuation.
    """

    floor_id: str
    grid: Grid
    height: Ints
    error: Ints
    inside: Mask
    spline: Spline
    noise_sd_m: float
    effective_parameters: float
    observations_used: int
    readings_plane: ReadingsPlane | None = None
    misreads: tuple[Misread, ...] = ()
    problems: tuple[Problem, ...] = ()
    steps: tuple[JointStep, ...] = ()
    suspected_steps: tuple[SuspectedStep, ...] = ()
