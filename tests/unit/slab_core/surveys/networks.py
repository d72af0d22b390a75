"""Small surveys of one room, tied together."""

from dataclasses import replace

import numpy as np

from slab_core.errors import Problem
from slab_core.rooms.build import build_rooms
from slab_core.rooms.model import Ring, Room
from slab_core.surveys.model import (
    Benchmark,
    Network,
    Readings,
    Setup,
    Sight,
    Survey,
)
from slab_core.surveys.network import adjust

SQUARE: Ring = ((0.0, 0.0), (6.0, 0.0), (6.0, 5.0), (0.0, 5.0))
ROOMS = build_rooms(rooms=(Room(id="den", name="Den", outline=SQUARE),))
BM = Benchmark(id="bm", elevation_m=10.0)
BM2 = Benchmark(id="bm2", elevation_m=10.25)


def rods(x: list[float], y: list[float], rod: list[float], setup: int = 0, position: float = 0.0) -> Readings:
    return Readings(
        kind="rod",
        x_m=np.array(x),
        y_m=np.array(y),
        value_m=np.array(rod),
        setup=np.full(len(x), setup, dtype=np.int32),
        sd_m=np.full(len(x), 0.0007),
        position_sd_m=np.full(len(x), position),
    )


def levels(x: list[float], y: list[float], z: list[float], position: float = 0.0) -> Readings:
    block = rods(x, y, z, position=position)
    return replace(block, kind="elevation", setup=np.full(len(x), -1, dtype=np.int32))


def survey(
    *sights: tuple[str, str, float], setups: str = "ab", readings: tuple[Readings, ...] = ()
) -> Survey:
    return Survey(
        id="s",
        setups=tuple(Setup(id=name) for name in setups),
        sights=tuple(Sight(setup=setup, target=target, rod_m=rod) for setup, target, rod in sights),
        readings=readings or tuple(rods([1.0 + k], [1.0], [1.4], setup=k) for k in range(len(setups))),
    )


def network(*surveys: Survey, benchmarks: tuple[Benchmark, ...] = (BM,)) -> Network:
    return adjust(rooms=ROOMS, benchmarks=benchmarks, surveys=surveys)


def heights(result: Network) -> dict[str, float]:
    return {height.setup: height.height_m for height in result.setup_heights}


def said(result: Network, code: str) -> list[Problem]:
    return [problem for problem in result.problems if problem.code == code]
