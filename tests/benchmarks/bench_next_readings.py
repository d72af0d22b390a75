"""Where to measure next: the error that is left after it, beside a regular in-fill grid and chance.

Invented slabs with the faults of real ones, read on a crew's grid of 40 and planned for. Then as many
readings more: at the places chosen; on a regular grid over the floor, each moved to the nearest middle of the
first readings' meshes; anywhere. The same after 40 readings taken anywhere, which have no meshes. What counts
is the true error of the fill, or of the plan's cost, under the plane of the first plan. The slabs are other
ones than those looked at while the choice was made.
"""

import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.special import ndtr

from slab_core.correction.model import Plan
from slab_core.correction.nodes import node_areas
from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import ERROR_STEP_M, Floats, Mask, to_metres, to_steps
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.next_places import NextPlaces, measurable, next_places
from slab_core.surface.unknown import straight
from slab_core.surface.warm import warm
from slab_core.surveys.model import Observations
from tests.benchmarks.measure import Figure, measures
from tests.invented_floors import Work
from tests.real_slabs import INSTRUMENT_SDS_M, ON_GRID_SD_M, RealSlab, read_by_crew, real_slab
from tests.slabs import heights_at, joined

Places = tuple[Floats, Floats]

FIRST, MORE = 40, 10
FIRST_SEED, SLABS = 870_000, 120
WIDTH_M, DEPTH_M = 5.0, 7.0
OFF_WALLS_M, APART_M = 0.127, 0.3


@dataclass(frozen=True, kw_only=True)
class Case:
    """A slab with its first survey and what was planned on it; `plane_m`, `area_m2` at the grid's nodes."""

    seed: int
    real: RealSlab
    seen: Observations
    surface: Surface
    plan: Plan
    plane_m: Floats
    area_m2: Floats

    def fill_litres(self, height_m: Floats) -> float:
        """What lies between these heights and the plane."""
        return float((self.area_m2 * np.maximum(self.plane_m - height_m, 0.0)).sum()) * 1e3

    def cost(self, surface: Surface) -> float:
        """Planning cost of the plane on this surface."""
        assert self.plan.plane is not None
        height_m, slope_x, slope_y = self.plan.plane
        plan = _work(self.real, surface).at(height_m=height_m, slope_x=slope_x, slope_y=slope_y)
        return plan.solve.objective

    def true_surface(self) -> Surface:
        """The slab itself at the nodes."""
        xs, ys = np.meshgrid(self.surface.grid.xs(), self.surface.grid.ys())
        truth = to_steps(self.real.slab.height(xs, ys))
        return Surface(
            floor_id=self.surface.floor_id, grid=self.surface.grid, height=truth,
            error=np.zeros_like(truth), inside=self.surface.inside, spline=self.surface.spline,
            noise_sd_m=0.0, effective_parameters=3.0, observations_used=FIRST,
        )  # fmt: skip

    def read_again(self, places: Places) -> Surface:
        """The fit of the first survey with these places read too, by the same level and as well placed."""
        x, y = places
        rng = np.random.default_rng([self.seed, 1])
        aside = rng.normal(0.0, ON_GRID_SD_M, (2, len(x)))
        at_x = np.clip(x + aside[0], 0.01, WIDTH_M - 0.01)
        at_y = np.clip(y + aside[1], 0.01, DEPTH_M - 0.01)
        value = self.real.slab.height(at_x, at_y) + rng.normal(0.0, INSTRUMENT_SDS_M[0], len(x))
        more = heights_at(x_m=x, y_m=y, value_m=value, sd_m=INSTRUMENT_SDS_M[0], position_sd_m=ON_GRID_SD_M)
        return _fit(self.real, joined(self.seen, more))

    def weights(self) -> Floats:
        """Expected change of the fill in m³ per metre of height, shape (1, ny, nx)."""
        sd = np.maximum(to_metres(self.surface.error, step_m=ERROR_STEP_M), 1e-5)
        return -(self.area_m2 * ndtr((self.plane_m - to_metres(self.surface.height)) / sd))[None]

    def chosen(self, *, allowed: Mask, apart_m: float = APART_M) -> NextPlaces:
        """The places of the core's choice among those allowed."""
        return next_places(
            surface=self.surface,
            sums=straight(self.weights()),
            count=MORE,
            reading_sd_m=self.surface.noise_sd_m,
            allowed=allowed,
            apart_m=apart_m,
        )

    def allowed(self) -> Mask:
        """Where the core may choose."""
        return measurable(
            floor=self.real.slab.floor, surface=self.surface, off_walls_m=OFF_WALLS_M, apart_m=APART_M
        )

    def infill(self, count: int) -> Places:
        """A regular grid of `count` over the floor, moved to the middles of the first meshes, if any."""
        across = max(1, round(float(np.sqrt(count * WIDTH_M / DEPTH_M))))
        along = -(-count // across)
        gx, gy = np.meshgrid(_middles(across) * WIDTH_M, _middles(along) * DEPTH_M)
        x, y = (
            _nearest_mesh(wanted.ravel(), read) for wanted, read in ((gx, self.seen.x_m), (gy, self.seen.y_m))
        )
        return x[:count], y[:count]

    def anywhere(self) -> Places:
        """As many places by chance."""
        rng = np.random.default_rng([self.seed, 2])
        off = OFF_WALLS_M
        return rng.uniform(off, WIDTH_M - off, MORE), rng.uniform(off, DEPTH_M - off, MORE)

    def sd_after(self, places: Places) -> float:
        """The model's own standard deviation of the fill, m³, once the nodes nearest to these are read."""
        grid, only = self.surface.grid, np.zeros(self.surface.inside.shape, dtype=np.bool_)
        columns = np.rint((places[0] - grid.x0_m) / grid.step_m).astype(int)
        rows = np.rint((places[1] - grid.y0_m) / grid.step_m).astype(int)
        only[rows, columns] = True
        return self.chosen(allowed=only, apart_m=0.0).places[-1].sd[0]


def _middles(count: int) -> Floats:
    return np.asarray((np.arange(count) + 0.5) / count)


def _nearest_mesh(wanted: Floats, read: Floats) -> Floats:
    lines = np.unique(np.round(read[:, 0], 6))
    if len(lines) == len(read):
        return wanted
    middles = (lines[1:] + lines[:-1]) / 2
    return np.asarray(middles[np.abs(wanted[:, None] - middles).argmin(axis=1)])


def _fit(real: RealSlab, seen: Observations) -> Surface:
    options = SurfaceOptions(grid_step_m=0.1)
    return fit_surface(floor=real.slab.floor, observations=seen, options=options, budget=Budget())


def _work(real: RealSlab, surface: Surface) -> Work:
    return Work(floor=real.slab.floor, surface=surface, changes={})


def _cases(*, scattered: bool) -> Iterator[Case]:
    """Every slab that needs work by its first survey, made on the crew's grid or anywhere."""
    for seed in range(FIRST_SEED, FIRST_SEED + SLABS):
        rng = np.random.default_rng(seed)
        real = real_slab(rng=rng, width_m=WIDTH_M, depth_m=DEPTH_M)
        seen = read_by_crew(real=real, count=FIRST, rng=rng, scattered=scattered)
        surface = _fit(real, seen)
        plan = _work(real, surface).plan()
        if plan.plane is None:
            continue
        xs, ys = np.meshgrid(surface.grid.xs(), surface.grid.ys())
        shape = shapely.Polygon(real.slab.floor.shell)
        yield Case(
            seed=seed,
            real=real,
            seen=seen,
            surface=surface,
            plan=plan,
            plane_m=plan.plane[0] + plan.plane[1] * xs + plan.plane[2] * ys,
            area_m2=node_areas(shape=shape, grid=surface.grid, inside=surface.inside),
        )


def _at(found: NextPlaces) -> Places:
    x, y = np.array([place.at for place in found.places]).T
    return x, y


def _rms(errors: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(errors))))


def _figure(
    name: str,
    value: float,
    *,
    n: int,
    unit: str = "ratio",
    peer: str | None = None,
    peer_value: float | None = None,
) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=peer, peer_value=peer_value, n=n, memory_mb=None)


@measures("next.volume_", "next.cost_")
def bench_after_a_crews_grid() -> list[Figure]:
    """Ten readings more where the first survey is even: little is left to choose by but what counts."""
    return _errors_left(prefix="next.", scattered=False)


@measures("next.uneven.")
def bench_after_scattered_readings() -> list[Figure]:
    """Ten readings more where the first survey left holes."""
    return _errors_left(prefix="next.uneven.", scattered=True)


def _errors_left(*, prefix: str, scattered: bool) -> list[Figure]:
    """True errors of fill and cost after ten readings more, as root mean squares over the slabs."""
    fill: dict[str, list[float]] = {"chosen": [], "grid": [], "random": [], "before": []}
    cost: dict[str, list[float]] = {"chosen": [], "grid": []}
    told: list[float] = []
    for case in _cases(scattered=scattered):
        truth = case.true_surface()
        places = {
            "chosen": _at(case.chosen(allowed=case.allowed())),
            "grid": case.infill(MORE),
            "random": case.anywhere(),
        }
        surfaces = {name: case.read_again(at) for name, at in places.items()} | {"before": case.surface}
        for name, surface in surfaces.items():
            litres = case.fill_litres(to_metres(surface.height)) - case.fill_litres(to_metres(truth.height))
            fill[name].append(litres)
        told.append(case.sd_after(places["chosen"]) / case.sd_after(places["grid"]))
        asked = case.plan.next_readings
        if asked is None or not asked.readings:
            continue
        x, y = np.array([reading.at for reading in asked.readings]).T
        same_number = {"chosen": (x, y), "grid": case.infill(len(x))}
        for name, at in same_number.items():
            cost[name].append(case.cost(case.read_again(at)) - case.cost(truth))
    rms = {name: _rms(errors) for name, errors in fill.items()}
    print(f"  fill, rms error in litres: {', '.join(f'{name} {value:.2f}' for name, value in rms.items())}")
    n, ratio = len(told), {name: rms["chosen"] / rms[name] for name in rms}
    grid, chance = "regular in-fill grid, rms litres", "random places, rms litres"
    return [
        _figure(f"{prefix}volume_sd_vs_grid", float(np.mean(told)), n=n),
        _figure(
            f"{prefix}volume_rmse_vs_grid",
            ratio["grid"],
            n=n,
            peer=grid,
            peer_value=rms["grid"],
        ),
        _figure(
            f"{prefix}volume_rmse_vs_random",
            ratio["random"],
            n=n,
            peer=chance,
            peer_value=rms["random"],
        ),
        _figure(
            f"{prefix}cost_rmse_vs_grid",
            _rms(cost["chosen"]) / _rms(cost["grid"]),
            n=len(cost["grid"]),
            peer="regular in-fill grid, rms cost",
            peer_value=_rms(cost["grid"]),
        ),
    ]


@measures("next.choose_s")
def bench_choosing() -> list[Figure]:
    """Least CPU seconds of twenty choices of ten places: 5 × 7 m on a 50 mm grid after 150 readings."""
    warm()
    rng = np.random.default_rng(1)
    real = real_slab(rng=rng, width_m=WIDTH_M, depth_m=DEPTH_M)
    seen = read_by_crew(real=real, count=150, rng=rng)
    surface = fit_surface(
        floor=real.slab.floor, observations=seen, options=SurfaceOptions(grid_step_m=0.05), budget=Budget()
    )
    weights = np.asarray(surface.inside[None] * surface.grid.cell_area_m2(), dtype=np.float64)
    seconds = []
    for _ in range(20):
        start = time.thread_time()
        allowed = measurable(floor=real.slab.floor, surface=surface, off_walls_m=OFF_WALLS_M, apart_m=APART_M)
        found = next_places(
            surface=surface,
            sums=straight(weights),
            count=MORE,
            reading_sd_m=surface.noise_sd_m,
            allowed=allowed,
            apart_m=APART_M,
        )
        seconds.append(time.thread_time() - start)
    assert len(found.places) == MORE
    return [_figure("next.choose_s", min(seconds), unit="s", n=MORE)]
