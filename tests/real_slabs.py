"""Invented slabs that look like slabs, with every fault that crews meet, and surveys as crews take them.

Amplitudes and habits are common practice, no single source: broad undulations, one or two humps and hollows
of up to 3/4 in, bands of 4-12 in along walls off by 1/8-1/4 in, strike-off ridges every 6-10 ft, edges
curled up at control joints and a small step across them, trench patches, a lip at the door, trowel marks.
Joints are declared in the floor; everything else has to be found by measuring.
"""

from dataclasses import dataclass, replace

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Joint
from slab_core.surveys.model import Observations
from tests.slabs import Height, Slab, heights_at, rectangle

WALL_BAND_SHARE, RIDGES_SHARE, JOINT_SHARE, TRENCH_SHARE, LIP_SHARE = 0.5, 0.4, 0.3, 0.25, 0.5
"""How often a wall has a band, and a room has the others."""

INSTRUMENT_SDS_M = (0.0007, 0.0013)
"""An optical level, a rotary laser with its receiver."""

ON_GRID_SD_M = 0.0508
OFF_WALL_M = 0.127


@dataclass(frozen=True, slots=True, kw_only=True)
class RealSlab:
    """A true floor with its joints declared, and which faults it has."""

    slab: Slab
    faults: tuple[str, ...]


def real_slab(*, rng: np.random.Generator, width_m: float = 5.0, depth_m: float = 7.0) -> RealSlab:
    """One room of an invented house; a corner of it is the origin."""
    size = np.array([width_m, depth_m])
    parts: list[Height] = [_tilt(rng), *(_wave(rng) for _ in range(8)), _trowel_marks(rng)]
    parts += [_hump(rng, size) for _ in range(rng.integers(1, 3))]
    faults, joints = [], ()
    for wall in range(4):
        if rng.random() < WALL_BAND_SHARE:
            parts.append(_wall_band(rng, size, wall))
            faults.append("wall-band")
    for share, name, make in (
        (RIDGES_SHARE, "ridges", _ridges),
        (TRENCH_SHARE, "trench", _trench),
        (LIP_SHARE, "door-lip", _door_lip),
    ):
        if rng.random() < share:
            parts.append(make(rng, size))
            faults.append(name)
    if rng.random() < JOINT_SHARE:
        joint, curl = _curled_joint(rng, size)
        parts.append(curl)
        joints = (joint,)
        faults.append("joint")
    floor = rectangle(width_m, depth_m)
    floor = replace(floor, rooms=(replace(floor.rooms[0], joints=joints),))
    return RealSlab(slab=Slab(floor=floor, height=_sum(tuple(parts))), faults=tuple(faults))


def _sum(parts: tuple[Height, ...]) -> Height:
    return lambda x, y: np.asarray(sum(part(x, y) for part in parts))


def _tilt(rng: np.random.Generator) -> Height:
    slope = rng.normal(0.0, 0.002, 2)
    return lambda x, y: np.asarray(0.1 + slope[0] * x + slope[1] * y)


def _wave(rng: np.random.Generator) -> Height:
    length, angle, phase = rng.uniform(1.8, 6.0), rng.uniform(0, np.pi), rng.uniform(0, 2 * np.pi)
    size = rng.normal(0.0, 0.0006) * length
    kx, ky = np.cos(angle) * 2 * np.pi / length, np.sin(angle) * 2 * np.pi / length
    return lambda x, y: np.asarray(size * np.sin(kx * x + ky * y + phase))


def _trowel_marks(rng: np.random.Generator) -> Height:
    count = 12
    length = rng.uniform(0.15, 0.5, count)
    angle, phase = rng.uniform(0, np.pi, count), rng.uniform(0, 2 * np.pi, count)
    size = 0.0002 * np.sqrt(2.0 / count)

    def height(x: Floats, y: Floats) -> Floats:
        total = np.zeros(np.broadcast_shapes(np.shape(x), np.shape(y)))
        for k in range(count):
            along = np.cos(angle[k]) * x + np.sin(angle[k]) * y
            total = total + size * np.sin(2 * np.pi * along / length[k] + phase[k])
        return total

    return height


def _hump(rng: np.random.Generator, size: Floats) -> Height:
    at, radius = rng.uniform(0.15, 0.85, 2) * size, rng.uniform(0.6, 1.5)
    amount = rng.uniform(0.004, 0.019) * rng.choice([-1.0, 1.0])

    def height(x: Floats, y: Floats) -> Floats:
        r = np.minimum(np.hypot(x - at[0], y - at[1]) / radius, 1.0)
        return np.asarray(amount * np.cos(r * np.pi / 2) ** 2)

    return height


def _faded(distance: Floats, reach: float) -> Floats:
    """1 at no distance, 0 from `reach` on, rounded at both ends."""
    return np.asarray(0.5 + 0.5 * np.cos(np.pi * np.clip(distance / reach, 0.0, 1.0)))


def _wall_band(rng: np.random.Generator, size: Floats, wall: int) -> Height:
    width, amount = rng.uniform(0.1, 0.3), rng.uniform(0.0032, 0.0064) * rng.choice([-1.0, 1.0])
    wander, phase = rng.uniform(2.0, 5.0), rng.uniform(0, 2 * np.pi)

    def height(x: Floats, y: Floats) -> Floats:
        along, off = (y, x) if wall < 2 else (x, y)
        if wall % 2:
            off = size[wall // 2] - off
        strength = 0.75 + 0.25 * np.sin(2 * np.pi * along / wander + phase)
        return np.asarray(amount * strength * _faded(off, width))

    return height


def _ridges(rng: np.random.Generator, size: Floats) -> Height:
    pitch, half = rng.uniform(1.8, 3.0), rng.uniform(0.06, 0.15)
    first, amount, across = rng.uniform(0.0, pitch), rng.uniform(0.001, 0.003), rng.integers(0, 2)
    skew = rng.normal(0.0, 0.02)

    def height(x: Floats, y: Floats) -> Floats:
        a, b = (x, y) if across else (y, x)
        away = np.abs((a + skew * b - first + pitch / 2) % pitch - pitch / 2)
        return np.asarray(amount * _faded(away, 2 * half))

    return height


def _trench(rng: np.random.Generator, size: Floats) -> Height:
    across = int(rng.integers(0, 2))
    middle = rng.uniform(0.2, 0.8) * size[across]
    half, amount = rng.uniform(0.15, 0.3), rng.uniform(0.002, 0.005) * rng.choice([-1.0, 1.0])
    until = rng.uniform(0.4, 1.0) * size[1 - across]

    def height(x: Floats, y: Floats) -> Floats:
        a, b = (x, y) if across == 0 else (y, x)
        side = np.clip((half - np.abs(a - middle)) / 0.03 + 0.5, 0.0, 1.0)
        end = np.clip((until - b) / 0.03 + 0.5, 0.0, 1.0)
        return np.asarray(amount * side * end)

    return height


def _door_lip(rng: np.random.Generator, size: Floats) -> Height:
    wall = int(rng.integers(0, 2))
    middle, reach = rng.uniform(0.15, 0.85) * size[1 - wall], rng.uniform(0.15, 0.4)
    amount = rng.uniform(0.003, 0.006) * rng.choice([-1.0, 1.0])

    def height(x: Floats, y: Floats) -> Floats:
        off, along = (x, y) if wall == 0 else (y, x)
        beside = np.maximum(np.abs(along - middle) - 0.4, 0.0)
        return np.asarray(amount * _faded(off, reach) * _faded(beside, 0.15))

    return height


def _curled_joint(rng: np.random.Generator, size: Floats) -> tuple[Joint, Height]:
    """A joint from wall to wall, its edges curled up, the far side higher or lower by up to 3 mm."""
    across = int(rng.integers(0, 2))
    at = rng.uniform(0.3, 0.7) * size[across]
    step, reach = rng.normal(0.0, 0.0012), rng.uniform(0.3, 0.8)
    curl = rng.uniform(0.001, 0.004)
    ends = ((at, 0.0), (at, size[1])) if across == 0 else ((0.0, at), (size[0], at))
    ends = tuple((float(a), float(b)) for a, b in ends)

    def height(x: Floats, y: Floats) -> Floats:
        off = (x if across == 0 else y) - at
        near = np.maximum(1.0 - np.abs(off) / reach, 0.0) ** 2
        return np.asarray(curl * near + step * (off > 0))

    return Joint(id="c1", kind="control", start=ends[0], end=ends[1]), height


def crew_places(*, size: tuple[float, float], spacing_m: float) -> tuple[Floats, Floats]:
    """A line 5 in off every wall and a grid of about `spacing_m` between."""
    axes = [
        np.linspace(OFF_WALL_M, s - OFF_WALL_M, max(2, round((s - 2 * OFF_WALL_M) / spacing_m) + 1))
        for s in size
    ]
    x, y = np.meshgrid(*axes)
    return x.ravel(), y.ravel()


def spacing_for(*, size: tuple[float, float], count: int) -> float:
    """The spacing at which `crew_places` gives about so many places."""
    width, depth = (s - 2 * OFF_WALL_M for s in size)
    across = (-(width + depth) + np.sqrt((width + depth) ** 2 + 4 * (count - 1) * width * depth)) / 2
    return float(width * depth / across)


def read_by_crew(
    *,
    real: RealSlab,
    count: int,
    rng: np.random.Generator,
    sd_m: float = INSTRUMENT_SDS_M[0],
    position_sd_m: float = ON_GRID_SD_M,
    scattered: bool = False,
) -> Observations:
    """About `count` readings, on the crew's grid or anywhere, each read a little beside where it is noted."""
    x_end, y_end = np.array(real.slab.floor.shell).max(axis=0)
    size = (float(x_end), float(y_end))
    if scattered:
        x, y = rng.uniform(0.0, size[0], count), rng.uniform(0.0, size[1], count)
    else:
        x, y = crew_places(size=size, spacing_m=spacing_for(size=size, count=count))
    aside = rng.normal(0.0, position_sd_m, (2, len(x)))
    at_x, at_y = np.clip(x + aside[0], 0.01, size[0] - 0.01), np.clip(y + aside[1], 0.01, size[1] - 0.01)
    value = real.slab.height(at_x, at_y) + rng.normal(0.0, sd_m, len(x))
    return heights_at(x_m=x, y_m=y, value_m=value, sd_m=sd_m, position_sd_m=position_sd_m)
