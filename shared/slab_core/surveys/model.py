"""What was measured on site, and what the rest of the line makes of it. Lengths in metres."""

from dataclasses import dataclass
from typing import Literal

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Ints
from slab_core.rooms.model import Point

HeightKind = Literal["elevation", "rod"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Benchmark:
    """A fixed reference whose height above the datum is known."""

    id: str
    elevation_m: float
    sd_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One position of the level. `sd_m` is one reading's standard deviation."""

    id: str
    instrument: str = "optical level"
    sd_m: float = 0.0007


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """A rod reading from a setup to a benchmark or to a shared turning point."""

    setup: str
    target: str
    rod_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Heights at places, as columns of equal length n.

    `kind` rod: `value_m` is the rod reading (bigger is lower) from setup number `setup[i]` of the
    survey; elevation: the height above the datum, `setup` is -1. `sd_m` and `position_sd_m` are
    per reading.
    """

    kind: HeightKind
    x_m: Floats
    y_m: Floats
    value_m: Floats
    setup: Ints
    sd_m: Floats
    position_sd_m: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gaps:
    """Gaps under a straightedge that rests on both ends, as columns of equal length n.

    The edge lies from (x0, y0) to (x1, y1); the gap is measured at the share `at` (0..1) of it.
    """

    x0_m: Floats
    y0_m: Floats
    x1_m: Floats
    y1_m: Floats
    at: Floats
    gap_m: Floats
    sd_m: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProfileLine:
    """Heights in order along a straight line, `spacing_m` apart from `start` towards `end`.

    `value_m` is an elevation, or a rod reading from the setup named in `setup`.
    """

    id: str
    kind: HeightKind
    start: Point
    end: Point
    spacing_m: float
    value_m: Floats
    setup: str = ""
    sd_m: float = 0.0007
    position_sd_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Survey:
    """Everything measured in one visit."""

    id: str
    setups: tuple[Setup, ...] = ()
    sights: tuple[Sight, ...] = ()
    readings: tuple[Readings, ...] = ()
    gaps: tuple[Gaps, ...] = ()
    lines: tuple[ProfileLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupHeight:
    """Height of a setup's line of sight above the datum, adjusted, rounded to 0.001 mm."""

    survey: str
    setup: str
    height_m: float
    sd_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """How far one sight disagrees with the adjusted network: rod read less rod expected.

    `expected_sd_m` is the residual's own standard deviation, 0 for a sight that nothing checks.
    """

    survey: str
    setup: str
    target: str
    residual_m: float
    expected_sd_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stray:
    """A reading that lies inside no floor, or inside two: the floor that it was given to, or ""."""

    pointer: str
    floor_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """Result of the surveys stage: setups tied together, and readings that need a person's eye.

    Readings that are not among the `strays` belong to the one floor that they lie inside.
    """

    setup_heights: tuple[SetupHeight, ...]
    closures: tuple[Closure, ...]
    largest_closure_m: float
    reading_count: int
    problems: tuple[Problem, ...] = ()
    strays: tuple[Stray, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observations:
    """Linear observations of one floor's surface, n of them, rounded to 1 nm.

    Observation i says: sum over k of weight[i, k]·z(x[i, k], y[i, k]) = value[i], with standard
    deviation `sd_m` and horizontal standard deviation `position_sd_m`. A height has the weights
    (1, 0, 0); a gap weighs both ends of the edge and the place of the gap. `pointer[i]` leads back
    into the posted job.
    """

    x_m: Floats
    y_m: Floats
    weight: Floats
    value_m: Floats
    sd_m: Floats
    position_sd_m: Floats
    pointer: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """A measured line of heights above the datum on one floor, for F-numbers."""

    id: str
    start: Point
    end: Point
    spacing_m: float
    height_m: Floats
