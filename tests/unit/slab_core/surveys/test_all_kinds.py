"""Every kind of reading in one weighted fit, from the survey as posted to the surface, with known truth."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, Floats, to_metres
from slab_core.rooms.model import Rooms
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surveys.model import (
    Benchmark,
    Gaps,
    PegReadings,
    PegTest,
    ProfileLine,
    Readings,
    Setup,
    Sight,
    StretchedLine,
    Survey,
)
from slab_core.surveys.network import adjust
from slab_core.surveys.observe import observations
from tests.slabs import Height, Slab, grid_places, make_slab, rectangle

Pair = tuple[Floats, Floats]
Kind = Callable[["Crew"], Survey]

WIDTH_M, DEPTH_M = 5.0, 7.0
MARKS = (Benchmark(id="bm", elevation_m=0.25),)
SLOPE = 0.0003
STANDS: tuple[tuple[float, float], ...] = ((0.5, 0.8), (4.4, 6.1))
ROD_SD, GAP_SD, LINE_SD = 0.0007, 0.0003, 0.0008


class Crew:
    """Reads a slab with an instrument's noise; its level's line of sight rises, and was checked."""

    def __init__(self, height: Height, rng: np.random.Generator, *, middle: Pair | None = None) -> None:
        self.height, self.rng = height, rng
        floor = rectangle(WIDTH_M, DEPTH_M)
        self.places = (
            (lambda count: middle) if middle else lambda n: grid_places(floor=floor, count=n, rng=rng)
        )
        sight = height(np.array([2.5]), np.array([3.5]))[0] + 1.4
        self.sights = (sight, sight + 0.08)

    def noise(self, sd_m: float, count: int) -> Floats:
        return np.asarray(self.rng.normal(0.0, sd_m, count))

    def rod(self, setup: int, x: Floats, y: Floats) -> Floats:
        stand = STANDS[setup]
        tilt = SLOPE * np.hypot(x - stand[0], y - stand[1])
        return np.asarray(self.sights[setup] - self.height(x, y) + tilt + self.noise(ROD_SD, len(x)))

    def edges(self, count: int, *, length_m: float = 1.8) -> tuple[Floats, ...]:
        """Ends of straightedges about the given places: x0, y0, x1, y1."""
        x, y = self.places(count)
        angle = self.rng.uniform(0.0, np.pi, len(x))
        dx, dy = length_m / 2 * np.cos(angle), length_m / 2 * np.sin(angle)
        x0, x1 = (np.clip(at, 0.03, WIDTH_M - 0.03) for at in (x - dx, x + dx))
        y0, y1 = (np.clip(at, 0.03, DEPTH_M - 0.03) for at in (y - dy, y + dy))
        return x0, y0, x1, y1


def elevations(crew: Crew, count: int = 30) -> Survey:
    x, y = crew.places(count)
    return Survey(id="s", readings=(_block(x, y, crew.height(x, y) + crew.noise(ROD_SD, len(x))),))


def rods(crew: Crew, count: int = 60) -> Survey:
    """From two setups that one benchmark and one turning point tie."""
    x, y = crew.places(count)
    setup = (np.arange(len(x)) % 2).astype(np.int32)
    value = np.where(setup == 0, crew.rod(0, x, y), crew.rod(1, x, y))
    block = replace(_block(x, y, value), kind="rod", setup=setup)
    return Survey(id="s", readings=(block,), **_levelled(crew))


def profile(crew: Crew) -> Survey:
    """A rod line across the middle from each setup."""
    run = np.linspace(0.2, 4.7, 16)
    lines = tuple(
        ProfileLine(
            id=f"l{k}",
            kind="rod",
            start=(0.2, y),
            end=(4.7, y),
            spacing_m=0.3,
            value_m=crew.rod(k, run, np.full(16, y)),
            setup="ab"[k],
            sd_m=ROD_SD,
        )
        for k, y in enumerate((3.3, 3.7))
    )
    return Survey(id="s", lines=lines, **_levelled(crew))


def gaps(crew: Crew, count: int = 40) -> Survey:
    """In the middle of edges that rest on both ends."""
    x0, y0, x1, y1 = crew.edges(count)
    gap = (crew.height(x0, y0) + crew.height(x1, y1)) / 2 - crew.height((x0 + x1) / 2, (y0 + y1) / 2)
    n = len(x0)
    block = Gaps(
        x0_m=x0,
        y0_m=y0,
        x1_m=x1,
        y1_m=y1,
        at=np.full(n, 0.5),
        gap_m=gap + crew.noise(GAP_SD, n),
        sd_m=np.full(n, GAP_SD),
    )
    return Survey(id="s", gaps=(block,))


def rocking_edges(crew: Crew, count: int = 40) -> Survey:
    """Under the free end of edges that rest in their middle and on the end that is held down."""
    x0, y0, x1, y1 = crew.edges(count)
    middle, held = crew.height((x0 + x1) / 2, (y0 + y1) / 2), crew.height(x0, y0)
    n = len(x0)
    block = Gaps(
        x0_m=x0,
        y0_m=y0,
        x1_m=x1,
        y1_m=y1,
        at=np.ones(n),
        gap_m=2 * middle - held - crew.height(x1, y1) + crew.noise(GAP_SD, n),
        sd_m=np.full(n, GAP_SD),
        rest0=np.zeros(n),
        rest1=np.full(n, 0.5),
    )
    return Survey(id="s", gaps=(block,))


def stretched_on_blocks(crew: Crew) -> Survey:
    return _stretched(crew, on_blocks=True)


def stretched_between_heights(crew: Crew) -> Survey:
    return _stretched(crew, on_blocks=False)


def _stretched(crew: Crew, *, on_blocks: bool) -> Survey:
    """Lines across at three places, that hang through by 1.5 mm."""
    lines = []
    for k, y in enumerate((2.9, 3.5, 4.1)):
        run = np.linspace(0.3, 4.3, 12)
        t = run / 4.6
        ends = crew.height(np.array([0.2, 4.8]), np.full(2, y)) + 0.05
        hanging = (1 - t) * ends[0] + t * ends[1] - 4 * t * (1 - t) * 0.0015
        value = hanging - crew.height(0.2 + run, np.full(12, y)) + crew.noise(LINE_SD, 12)
        lines.append(
            StretchedLine(
                id=f"s{k}",
                ends="floor" if on_blocks else "elevation",
                start=(0.2, y),
                end=(4.8, y),
                start_height_m=0.05 if on_blocks else float(ends[0]),
                end_height_m=0.05 if on_blocks else float(ends[1]),
                along_m=run,
                value_m=value,
                sd_m=np.full(12, LINE_SD),
                sag_m=0.0015,
            )
        )
    return Survey(id="s", stretched_lines=tuple(lines))


def _block(x: Floats, y: Floats, value: Floats) -> Readings:
    return Readings(
        kind="elevation",
        x_m=x,
        y_m=y,
        value_m=value,
        setup=np.full(len(x), -1, dtype=np.int32),
        sd_m=np.full(len(x), ROD_SD),
        position_sd_m=np.zeros(len(x)),
    )


def _levelled(crew: Crew) -> dict[str, tuple[object, ...]]:
    """Setups, sights that tie them and the check of the level, all read with noise."""
    sd = ROD_SD

    def sight(setup: int, target: str, height: float, distance: float) -> Sight:
        rod = crew.sights[setup] - height + SLOPE * distance + float(crew.noise(sd, 1)[0])
        return Sight(setup="ab"[setup], target=target, rod_m=rod, distance_m=distance)

    ties = ((0, "bm", 0.25, 4.0), (1, "bm", 0.25, 6.0), (0, "tp", 0.1, 3.0), (1, "tp", 0.1, 3.5))
    off = crew.noise(sd, 4)
    test = PegTest(
        middle=PegReadings(
            rod_a_m=1.4 + 15 * SLOPE + off[0],
            rod_b_m=1.5 + 15 * SLOPE + off[1],
            distance_a_m=15,
            distance_b_m=15,
        ),
        near=PegReadings(
            rod_a_m=1.3 + 2 * SLOPE + off[2],
            rod_b_m=1.4 + 32 * SLOPE + off[3],
            distance_a_m=2,
            distance_b_m=32,
        ),
        sd_m=sd,
    )
    return {
        "setups": tuple(Setup(id="ab"[k], place=STANDS[k], sd_m=sd) for k in range(2)),
        "sights": tuple(sight(*tie) for tie in ties),
        "peg_tests": (test,),
    }


def fitted(*parts: Survey) -> Surface:
    """The surface of all parts as surveys of one job."""
    floor = rectangle(WIDTH_M, DEPTH_M)
    surveys = tuple(replace(part, id=f"visit-{k}") for k, part in enumerate(parts))
    net = adjust(rooms=Rooms(floors=(floor,)), benchmarks=MARKS, surveys=surveys)
    assert [problem for problem in net.problems if problem.severity == "refusal"] == []
    seen = observations(floor=floor, surveys=surveys, network=net)
    assert len(seen.value_m) == net.reading_count
    return fit_surface(
        floor=floor, observations=seen, options=SurfaceOptions(grid_step_m=0.1), budget=Budget()
    )


def errors(surface: Surface, height: Height) -> tuple[Floats, Floats]:
    """Error and standard error at the nodes of the floor, metres."""
    xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
    away = to_metres(surface.height) - height(xs, ys)
    return away[surface.inside], to_metres(surface.error, step_m=ERROR_STEP_M)[surface.inside]


def _slabs() -> list[tuple[Slab, np.random.Generator]]:
    found = []
    for seed in range(4):
        rng = np.random.default_rng(40 + seed)
        found.append((make_slab(rng=rng, width_m=WIDTH_M, depth_m=DEPTH_M), rng))
    return found


KINDS: tuple[Kind, ...] = (
    elevations,
    rods,
    profile,
    gaps,
    rocking_edges,
    stretched_on_blocks,
    stretched_between_heights,
)


def test_all_kinds_together_recover_the_surface_better_than_one_reading_and_as_well_as_they_say() -> None:
    away, stated = [], []
    for slab, rng in _slabs():
        crew = Crew(slab.height, rng)
        surface = fitted(*(kind(crew) for kind in KINDS))
        assert surface.misreads == ()
        error, sd = errors(surface, slab.height)
        away.append(np.mean(error**2))
        stated.append(np.mean(sd**2))
    rmse, said = np.sqrt(np.mean(away)), np.sqrt(np.mean(stated))
    assert rmse < ROD_SD
    # With the 60 or so effective parameters of one such surface the ratio of one is known to 1/√120, so
    # that of four to about 5 %; errors that readings share (the line of sight, the ties) come on top.
    assert 0.7 < rmse / said < 1.3


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: str(kind.__name__))
def test_each_kind_brings_a_sparse_survey_closer_to_the_truth(kind: Kind) -> None:
    before, after = [], []
    for slab, rng in _slabs():
        crew = Crew(slab.height, rng)
        sparse = elevations(crew, 20)
        before.append(np.mean(errors(fitted(sparse), slab.height)[0] ** 2))
        after.append(np.mean(errors(fitted(sparse, kind(crew)), slab.height)[0] ** 2))
    assert np.mean(after) < np.mean(before)


@pytest.mark.parametrize(
    ("kind", "amount_m"),
    [
        *((kind, amount) for kind in (elevations, rods, profile) for amount in (-0.012, 0.012)),
        *(
            (kind, amount)
            for kind in (stretched_on_blocks, stretched_between_heights)
            for amount in (-0.012, 0.012)
        ),
        (gaps, -0.012),
        (rocking_edges, 0.012),
    ],
    ids=lambda value: value.__name__ if callable(value) else f"{1000 * value:+.0f} mm",
)
def test_each_kind_pulls_the_fit_towards_a_hollow_or_a_crown_that_the_rest_does_not_see(
    kind: Kind, amount_m: float
) -> None:
    def height(x: Floats, y: Floats) -> Floats:
        away = np.hypot(x - 2.5, y - 3.5) / 0.9
        return np.asarray(
            0.1 + 0.002 * x + amount_m * np.where(away < 1, np.cos(np.minimum(away, 1) * np.pi / 2) ** 2, 0.0)
        )

    rng = np.random.default_rng(3)
    grid = np.meshgrid(np.linspace(0.2, 4.8, 5), np.linspace(0.2, 6.8, 6))
    x, y = (axis.ravel() for axis in grid)
    around = np.hypot(x - 2.5, y - 3.5) > 0.9
    blind = elevations(Crew(height, rng, middle=(x[around], y[around])))
    inner = np.meshgrid(np.linspace(2.0, 3.0, 5), np.linspace(3.0, 4.0, 5))
    crew = Crew(height, rng, middle=(inner[0].ravel(), inner[1].ravel()))

    def top(surface: Surface) -> tuple[float, float]:
        """Height above the plane in the middle, and its standard error."""
        row = int(np.abs(surface.grid.ys() - 3.5).argmin())
        column = int(np.abs(surface.grid.xs() - 2.5).argmin())
        error = to_metres(surface.error, step_m=ERROR_STEP_M)[row, column]
        return float(to_metres(surface.height)[row, column]) - 0.105, float(error)

    (unseen, _), (found, error) = top(fitted(blind)), top(fitted(blind, kind(crew)))
    # Towards the truth, and by more than chance makes of readings as rough as these.
    assert (found - unseen) * np.sign(amount_m) > 4 * error
    assert abs(found - amount_m) < abs(unseen - amount_m)
