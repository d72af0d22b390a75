"""What was measured on site, and what the rest of the line makes of it. Lengths in metres."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from slab_core.errors import Problem
from slab_core.numerics.grid import Floats, Ints
from slab_core.rooms.model import Point
from slab_core.scans.model import Scan, ScanHeight

HeightKind = Literal["elevation", "rod"]
LineEnds = Literal["floor", "elevation"]

SetupKey = tuple[str, str]
"""Ids of a survey and of a setup in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Benchmark:
    """A fixed reference whose height above the datum is known."""

    id: str
    elevation_m: float
    sd_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """One position of the level. `sd_m` is one reading's standard deviation.

    `place` is where it stands in the rooms' coordinates; the distances of its readings follow from it.
    """

    id: str
    instrument: str = "optical level"
    sd_m: float = 0.0007
    place: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """A rod reading from a setup to a benchmark or to a shared turning point, maybe `distance_m` away."""

    setup: str
    target: str
    rod_m: float
    distance_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PegReadings:
    """From one stand of a two-peg check: a rod reading to each peg, and how far away each peg is."""

    rod_a_m: float
    rod_b_m: float
    distance_a_m: float
    distance_b_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PegTest:
    """A two-peg check of a level: from the middle between two pegs, and from near one of them.

    It counts for the survey's setups with this `instrument`; without one, for all that have no check
    of their own. `sd_m` is one rod reading's standard deviation.
    """

    middle: PegReadings
    near: PegReadings
    instrument: str = ""
    sd_m: float = 0.0007


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
    """Gaps under a straightedge, as columns of equal length n.

    The edge lies from (x0, y0) to (x1, y1); the gap is measured at the share `at` (0..1) of it. It
    rests on both ends, or at the shares `rest0` and `rest1`: on two blocks' places, or, where it rocks
    on a crown, on the crown and on the end that is held down.
    """

    x0_m: Floats
    y0_m: Floats
    x1_m: Floats
    y1_m: Floats
    at: Floats
    gap_m: Floats
    sd_m: Floats
    rest0: Floats | None = None
    rest1: Floats | None = None


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
class StretchedLine:
    """Distances down from a stretched line to the floor, as columns of equal length n.

    `value_m[i]` is measured `along_m[i]` from `start`; below the line is positive. The line's ends are
    `start_height_m` and `end_height_m` above the floor there (ends "floor": on blocks) or above the
    datum ("elevation"), each known to `end_sd_m`. It hangs through by `sag_m` in its middle, or as a
    line of `kg_per_metre` under `tension_n` newtons does; without either a usual line is assumed.
    """

    id: str
    ends: LineEnds
    start: Point
    end: Point
    start_height_m: float
    end_height_m: float
    along_m: Floats
    value_m: Floats
    sd_m: Floats
    end_sd_m: float = 0.0
    position_sd_m: float = 0.0
    sag_m: float | None = None
    kg_per_metre: float | None = None
    tension_n: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Survey:
    """Everything measured in one visit.

    `after` names the work of an earlier plan that was done when it was measured, all of it: areas to grind,
    pours and patches by their ids, or by the names of whole groups of them.
    """

    id: str
    setups: tuple[Setup, ...] = ()
    sights: tuple[Sight, ...] = ()
    readings: tuple[Readings, ...] = ()
    gaps: tuple[Gaps, ...] = ()
    lines: tuple[ProfileLine, ...] = ()
    stretched_lines: tuple[StretchedLine, ...] = ()
    peg_tests: tuple[PegTest, ...] = ()
    scans: tuple[Scan, ...] = ()
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupHeight:
    """Height of a setup's line of sight above the datum, adjusted, rounded to 0.001 mm."""

    survey: str
    setup: str
    height_m: float
    sd_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Collimation:
    """What a survey's two-peg check found: the line of sight rises by `slope` (metres per metre).

    It was taken off every rod reading of the survey's setups with this instrument ("": of all others).
    """

    survey: str
    instrument: str
    slope: float
    slope_sd: float


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
    collimations: tuple[Collimation, ...] = ()
    scans: tuple[ScanHeight, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observations:
    """Linear observations of one floor's surface, n of them, rounded to 1 nm.

    Observation i says: sum over k of weight[i, k]·z(x[i, k], y[i, k]) = value[i], with standard
    deviation `sd_m` and horizontal standard deviation `position_sd_m`. A height has the weights
    (1, 0, 0); a gap weighs both rests of the edge and the place of the gap, a reading from a line on
    blocks both ends of the line and its own place. `pointer[i]` leads back into the posted job.
    `shared_m`, shape (n, k), is what one standard deviation of each of k errors that readings share adds
    to each of them, and `shared_by` where each was posted; without any both may be empty.
    """

    x_m: Floats
    y_m: Floats
    weight: Floats
    value_m: Floats
    sd_m: Floats
    position_sd_m: Floats
    pointer: tuple[str, ...]
    shared_m: Floats = field(default_factory=lambda: np.empty((0, 0)))
    shared_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """A measured line of heights above the datum on one floor, for F-numbers."""

    id: str
    start: Point
    end: Point
    spacing_m: float
    height_m: Floats
