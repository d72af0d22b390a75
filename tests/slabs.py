"""Synthetic slabs whose true height is known everywhere, and readings of them as crews take them.

Amplitudes follow common practice, no single source: undulations of a few mm over metres, a broad hump,
strike-off ridges every 2-3 m, a band along the walls that is off by 3-6 mm, a trench patch.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from slab_core.numerics.grid import Floats
from slab_core.rooms.model import Floor, Ring, Room
from slab_core.surveys.model import Observations

Height = Callable[[Floats, Floats], Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slab:
    """A true floor: `height(x, y)` in metres above the datum."""

    floor: Floor
    height: Height


def floor_of(*, shell: Ring, gaps: tuple[Ring, ...] = (), name: str = "A") -> Floor:
    """A floor of one room; `shell` counter-clockwise."""
    area = _area(shell) - sum(abs(_area(gap)) for gap in gaps)
    around = zip(shell, (*shell[1:], shell[0]), strict=True)
    wall = sum(float(np.hypot(b[0] - a[0], b[1] - a[1])) for a, b in around)
    room = Room(id=name, name=name, outline=shell, holes=gaps)
    return Floor(id=name, rooms=(room,), shell=shell, gaps=gaps, area_m2=area, wall_m=wall)


def rectangle(width_m: float, depth_m: float) -> Floor:
    """A floor with a corner at the origin."""
    return floor_of(shell=((0.0, 0.0), (width_m, 0.0), (width_m, depth_m), (0.0, depth_m)))


def _area(ring: Ring) -> float:
    x, y = np.array(ring).T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0


def make_slab(
    *,
    rng: np.random.Generator,
    width_m: float = 5.0,
    depth_m: float = 7.0,
    hump_m: float = 0.012,
    ridges_m: float = 0.0,
    wall_band_m: float = 0.0,
    step_m: float = 0.0,
) -> Slab:
    """A tilted slab with undulations and, by amplitude, a hump, ridges, a wall band and a step across x."""
    waves = [_wave(rng, length=rng.uniform(1.8, 6.0)) for _ in range(8)]
    tilt = rng.normal(0.0, 0.002, 2)
    at = rng.uniform(0.25, 0.75, 2) * (width_m, depth_m)
    radius, step_at = rng.uniform(0.8, 1.4), rng.uniform(0.35, 0.65) * width_m

    def height(x: Floats, y: Floats) -> Floats:
        z = 0.1 + tilt[0] * x + tilt[1] * y + sum(wave(x, y) for wave in waves)
        r = np.hypot(x - at[0], y - at[1]) / radius
        z = z + hump_m * np.where(r < 1.0, np.cos(np.minimum(r, 1.0) * np.pi / 2) ** 2, 0.0)
        z = z + ridges_m * np.maximum(0.0, np.cos(2 * np.pi * y / 2.4)) ** 12
        edge = np.minimum.reduce([x, width_m - x, y, depth_m - y])
        z = z + wall_band_m * np.clip(1.0 - edge / 0.25, 0.0, 1.0)
        return np.asarray(z + step_m * (x > step_at))

    return Slab(floor=rectangle(width_m, depth_m), height=height)


def stepped(slab: Slab, *, at_m: float, step_m: float) -> Slab:
    """The slab raised by `step_m` where x is beyond `at_m`."""
    return Slab(
        floor=slab.floor,
        height=lambda x, y: np.asarray(slab.height(x, y) + step_m * (x > at_m)),
    )


def _wave(rng: np.random.Generator, *, length: float) -> Height:
    angle, phase = rng.uniform(0, np.pi), rng.uniform(0, 2 * np.pi)
    size = rng.normal(0.0, 0.0006) * length
    kx, ky = np.cos(angle) * 2 * np.pi / length, np.sin(angle) * 2 * np.pi / length
    return lambda x, y: np.asarray(size * np.sin(kx * x + ky * y + phase))


def grid_places(*, floor: Floor, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """About `count` places of a rectangular floor, on a grid whose outer lines run 5 in off the walls."""
    x, y = np.array(floor.shell).T
    width, depth = x.max() - 0.26, y.max() - 0.26
    nx = max(2, round(float(np.sqrt(count * width / depth))))
    ny = max(2, round(count / nx))
    gx, gy = np.meshgrid(0.13 + np.linspace(0, width, nx), 0.13 + np.linspace(0, depth, ny))
    spread = rng.uniform(-0.03, 0.03, (2, nx * ny))
    return gx.ravel() + spread[0], gy.ravel() + spread[1]


def places_beside_joint(
    *, rng: np.random.Generator, width_m: float = 3.0, depth_m: float = 4.0, off_joint_m: float = 0.13
) -> tuple[Floats, Floats]:
    """Twenty places on each side of a joint across the middle; outer lines run 5 in off the walls."""
    half = np.linspace(0.13, width_m / 2 - off_joint_m, 4)
    gx, gy = np.meshgrid(np.concatenate([half, width_m - half]), np.linspace(0.13, depth_m - 0.13, 5))
    spread = rng.uniform(-0.03, 0.03, (2, gx.size))
    return gx.ravel() + spread[0], gy.ravel() + spread[1]


def random_places(*, floor: Floor, count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """`count` places anywhere on a rectangular floor."""
    x, y = np.array(floor.shell).T
    return rng.uniform(x.min(), x.max(), count), rng.uniform(y.min(), y.max(), count)


def heights_at(
    *,
    x_m: Floats,
    y_m: Floats,
    value_m: Floats,
    sd_m: float = 0.0007,
    position_sd_m: float = 0.0,
    pointers: Sequence[str] | None = None,
) -> Observations:
    """Height readings as observations."""
    n = len(x_m)
    zero = np.zeros((n, 2))
    weight = np.zeros((n, 3))
    weight[:, 0] = 1.0
    return Observations(
        x_m=np.column_stack([x_m, zero]),
        y_m=np.column_stack([y_m, zero]),
        weight=weight,
        value_m=np.asarray(value_m, dtype=np.float64),
        sd_m=np.full(n, sd_m),
        position_sd_m=np.full(n, position_sd_m),
        pointer=tuple(pointers or (f"/surveys/0/readings/0/rows/{i}" for i in range(n))),
    )


def read_slab(
    *,
    slab: Slab,
    places: tuple[Floats, Floats],
    rng: np.random.Generator,
    sd_m: float = 0.0007,
    position_sd_m: float = 0.0,
) -> Observations:
    """Readings with the instrument's noise, taken `position_sd_m` beside where they are noted."""
    x, y = places
    aside = rng.normal(0.0, position_sd_m, (2, len(x))) if position_sd_m else np.zeros((2, len(x)))
    value = slab.height(x + aside[0], y + aside[1]) + rng.normal(0.0, sd_m, len(x))
    return heights_at(x_m=x, y_m=y, value_m=value, sd_m=sd_m, position_sd_m=position_sd_m)


def gaps_of(
    *, start: Floats, end: Floats, share: Floats, gap_m: Floats, sd_m: float = 0.0003
) -> Observations:
    """Gaps under an edge that rests on both ends: chord height less floor height. `start`, `end`: (n, 2)."""
    n = len(gap_m)
    middle = start + share[:, None] * (end - start)
    return Observations(
        x_m=np.column_stack([start[:, 0], end[:, 0], middle[:, 0]]),
        y_m=np.column_stack([start[:, 1], end[:, 1], middle[:, 1]]),
        weight=np.column_stack([1.0 - share, share, -np.ones(n)]),
        value_m=gap_m,
        sd_m=np.full(n, sd_m),
        position_sd_m=np.zeros(n),
        pointer=tuple(f"/surveys/0/gaps/0/rows/{i}" for i in range(n)),
    )


def joined(*parts: Observations) -> Observations:
    """Several sets of observations as one."""
    return Observations(
        x_m=np.concatenate([p.x_m for p in parts]),
        y_m=np.concatenate([p.y_m for p in parts]),
        weight=np.concatenate([p.weight for p in parts]),
        value_m=np.concatenate([p.value_m for p in parts]),
        sd_m=np.concatenate([p.sd_m for p in parts]),
        position_sd_m=np.concatenate([p.position_sd_m for p in parts]),
        pointer=tuple(pointer for p in parts for pointer in p.pointer),
    )
