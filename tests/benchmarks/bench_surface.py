"""The surface beside general-purpose gridding: accuracy, time and memory at 60 to 50,000 readings.

Slabs are those of tests/real_slabs.py, read as crews do, except where a figure says otherwise. A peer's
smoothing is chosen beforehand and that choice is not timed. Memory is the peak of a process that does the
work, with all its libraries.
"""

from dataclasses import dataclass, replace
from importlib.util import find_spec

import numpy as np

from slab_core.numerics.budget import Budget
from slab_core.numerics.grid import Floats, to_metres
from slab_core.rooms.model import Floor, Joint
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surface.warm import warm
from slab_core.surveys.model import Observations
from tests.benchmarks.measure import Figure, measures, peak_memory_mb, processor_seconds
from tests.benchmarks.surface_peers import (
    GAUSSIAN_PROCESS,
    chosen_smoothing,
    gaussian_process,
    radial_basis,
)
from tests.real_slabs import read_by_crew, real_slab
from tests.slabs import Height, make_slab, random_places, read_slab, stepped

TRACKED_SD_M = 0.01
"""Thousands of readings come from an instrument that knows its place."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """A floor, its true height, its readings, and the grid wanted."""

    floor: Floor
    height: Height
    seen: Observations
    step_m: float

    def at(self) -> Floats:
        """Places of the readings, shape (n, 2)."""
        return np.column_stack([self.seen.x_m[:, 0], self.seen.y_m[:, 0]])

    def fit(self) -> Surface:
        """Our surface."""
        options = SurfaceOptions(grid_step_m=self.step_m)
        return fit_surface(floor=self.floor, observations=self.seen, options=options, budget=Budget())

    def nodes(self, surface: Surface) -> Floats:
        """Nodes of the surface that lie on the floor, shape (m, 2)."""
        return np.asarray(surface.grid.places()[surface.inside.ravel()])

    def rmse_m(self, heights: Floats, nodes: Floats) -> float:
        """Root mean square error over the nodes."""
        return float(np.sqrt(np.mean(np.square(heights - self.height(*nodes.T)))))


def _real(
    seed: int,
    count: int,
    *,
    step_m: float = 0.1,
    size: tuple[float, float] = (5.0, 7.0),
    tracked: bool = False,
) -> Case:
    rng = np.random.default_rng(seed)
    real = real_slab(rng=rng, width_m=size[0], depth_m=size[1])
    placing = {"position_sd_m": TRACKED_SD_M, "scattered": True} if tracked else {}
    seen = read_by_crew(real=real, count=count, rng=rng, **placing)
    return Case(floor=real.slab.floor, height=real.slab.height, seen=seen, step_m=step_m)


def _own(case: Case, *, rounds: int = 3) -> tuple[Surface, float, float]:
    """The surface, the processor's seconds, and the error."""
    surface, seconds = processor_seconds(case.fit, rounds=rounds)
    nodes = case.nodes(surface)
    return surface, seconds, case.rmse_m(to_metres(surface.height)[surface.inside], nodes)


def _figure(name: str, value: float, unit: str, *, n: int, peer: str, peer_value: float) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=peer, peer_value=peer_value, n=n, memory_mb=None)


def _plain(name: str, value: float, unit: str, *, n: int, memory_mb: float | None = None) -> Figure:
    return Figure(name=name, value=value, unit=unit, peer=None, peer_value=None, n=n, memory_mb=memory_mb)


@measures("surface.60.")
def bench_60_readings() -> list[Figure]:
    """Twenty rooms of 5 × 7 m; mean error beside the better of two peers."""
    own, radial, process, seconds = [], [], [], []
    for seed in range(6000, 6020):
        case = _real(seed, 60)
        surface, took, error = _own(case)
        nodes, at, value = case.nodes(surface), case.at(), case.seen.value_m
        own.append(error)
        seconds.append(took)
        smoothing = chosen_smoothing(at, value)
        radial.append(case.rmse_m(radial_basis(at, value, nodes, smoothing=smoothing), nodes))
        if find_spec("sklearn"):
            process.append(case.rmse_m(gaussian_process(at, value, nodes)[0], nodes))
    peers = {"scipy RBF thin plate, smoothing by leave-one-out": float(np.mean(radial))}
    if process:
        peers[GAUSSIAN_PROCESS] = float(np.mean(process))
    best = min(peers, key=peers.__getitem__)
    ratio = float(np.mean(own)) / peers[best]
    return [
        *(
            _figure(
                f"surface.60.rmse_vs_{name}",
                float(np.mean(own)) / value,
                "ratio",
                n=60,
                peer=f"{peer}, mean rmse mm",
                peer_value=1000.0 * value,
            )
            for name, (peer, value) in zip(("rbf", "gp"), peers.items(), strict=False)
        ),
        _figure(
            "surface.60.rmse_vs_best_peer",
            ratio,
            "ratio",
            n=60,
            peer=f"{best}, mean rmse mm",
            peer_value=1000.0 * peers[best],
        ),
        _plain("surface.60.own_s", float(np.median(seconds)), "s", n=60),
    ]


@measures("surface.500.")
def bench_500_readings() -> list[Figure]:
    """Eight rooms, heights and standard errors on a 50 mm grid."""
    warm()
    cases = [_real(seed, 500, step_m=0.05) for seed in range(6100, 6108)]
    found = [_own(case) for case in cases]
    own_s, own = (float(np.mean([part[k] for part in found])) for k in (1, 2))
    memory = peak_memory_mb(cases[0].fit)
    figures = [
        _plain("surface.500.own_s", own_s, "s", n=500, memory_mb=memory),
        _plain("surface.500.own_rmse_mm", 1000.0 * own, "mm", n=500),
    ]
    if not find_spec("sklearn"):
        return figures
    peer_s, peer = [], []
    for case, (surface, _, _) in zip(cases, found, strict=True):
        nodes, at, value = case.nodes(surface), case.at(), case.seen.value_m
        (heights, _), took = processor_seconds(
            lambda at=at, value=value, nodes=nodes: gaussian_process(at, value, nodes), rounds=1
        )
        peer_s.append(took)
        peer.append(case.rmse_m(heights, nodes))
    nodes, at, value = cases[0].nodes(found[0][0]), cases[0].at(), cases[0].seen.value_m
    theirs_mb = peak_memory_mb(lambda: gaussian_process(at, value, nodes))
    return [
        *figures,
        _figure(
            "surface.500.speedup_vs_gp",
            float(np.mean(peer_s)) / own_s,
            "x",
            n=500,
            peer=f"{GAUSSIAN_PROCESS}, s",
            peer_value=float(np.mean(peer_s)),
        ),
        _figure(
            "surface.500.rmse_vs_gp",
            own / float(np.mean(peer)),
            "ratio",
            n=500,
            peer=f"{GAUSSIAN_PROCESS}, mean rmse mm",
            peer_value=1000.0 * float(np.mean(peer)),
        ),
        _figure(
            "surface.500.memory_vs_gp",
            memory / theirs_mb,
            "ratio",
            n=500,
            peer=f"{GAUSSIAN_PROCESS}, MB",
            peer_value=theirs_mb,
        ),
    ]


def _against_rbf(name: str, cases: list[Case], *, neighbours: int | None) -> dict[str, Figure]:
    """Speed, error and memory beside radial basis functions, means over the cases."""
    own_s, own, peer_s, peer = [], [], [], []
    for case in cases:
        surface, took, error = _own(case)
        nodes, at, value = case.nodes(surface), case.at(), case.seen.value_m
        smoothing = chosen_smoothing(at, value)

        def theirs(
            at: Floats = at, value: Floats = value, nodes: Floats = nodes, smoothing: float = smoothing
        ) -> Floats:
            return radial_basis(at, value, nodes, smoothing=smoothing, neighbours=neighbours)

        heights, their_s = processor_seconds(theirs, rounds=1)
        own_s.append(took)
        own.append(error)
        peer_s.append(their_s)
        peer.append(case.rmse_m(heights, nodes))
    count = len(cases[0].seen.value_m)
    peer_name = f"scipy RBF thin plate, best decade of smoothing, neighbours {neighbours or 'all'}"
    memory, their_mb = peak_memory_mb(cases[-1].fit), peak_memory_mb(theirs)
    ours, others = (float(np.mean(values)) for values in (own, peer))
    return {
        "own_s": _plain(f"{name}.own_s", float(np.mean(own_s)), "s", n=count, memory_mb=memory),
        "own_rmse_mm": _plain(f"{name}.own_rmse_mm", 1000.0 * ours, "mm", n=count),
        "speedup_vs_rbf": _figure(
            f"{name}.speedup_vs_rbf",
            float(np.mean(peer_s)) / float(np.mean(own_s)),
            "x",
            n=count,
            peer=f"{peer_name}, s",
            peer_value=float(np.mean(peer_s)),
        ),
        "rmse_vs_rbf": _figure(
            f"{name}.rmse_vs_rbf",
            ours / others,
            "ratio",
            n=count,
            peer=f"{peer_name}, rmse mm",
            peer_value=1000.0 * others,
        ),
        "memory_vs_rbf": _figure(
            f"{name}.memory_vs_rbf",
            memory / their_mb,
            "ratio",
            n=count,
            peer=f"{peer_name}, MB",
            peer_value=their_mb,
        ),
    }


STEP_AT_M = 2.31


def _stepped(seed: int, *, declared: bool) -> Case:
    """Undulations, a 19 mm hump, a 2.5 mm step at a joint, readings of 0.5 mm at 5,000 places."""
    rng = np.random.default_rng(seed)
    slab = stepped(make_slab(rng=rng, hump_m=0.019), at_m=STEP_AT_M, step_m=0.0025)
    seen = read_slab(
        slab=slab, places=random_places(floor=slab.floor, count=5000, rng=rng), rng=rng, sd_m=0.0005
    )
    joint = Joint(id="c", kind="control", start=(STEP_AT_M, 0.0), end=(STEP_AT_M, 7.0))
    room = replace(slab.floor.rooms[0], joints=(joint,) if declared else ())
    return Case(floor=replace(slab.floor, rooms=(room,)), height=slab.height, seen=seen, step_m=0.05)


def _accepted(case: Case) -> Case:
    """The same room when whoever asked says of every suggested step that there is a joint."""
    joints = tuple(
        Joint(id=f"s{k}", kind="control", start=step.start, end=step.end)
        for k, step in enumerate(case.fit().suspected_steps)
    )
    room = replace(case.floor.rooms[0], joints=joints)
    return replace(case, floor=replace(case.floor, rooms=(room,)))


@measures("surface.5000.")
def bench_5000_readings() -> list[Figure]:
    """On a 50 mm grid; the peer gives heights only, and cannot be told of a joint.

    Four kinds of three rooms: a 2.5 mm step at a declared joint, the same step undeclared, the same with the
    line that was then suggested taken for a joint, and real slabs.
    """
    warm()
    declared = _against_rbf(
        "surface.5000", [_stepped(seed, declared=True) for seed in range(3)], neighbours=None
    )
    silent = _against_rbf(
        "surface.5000.undeclared", [_stepped(seed, declared=False) for seed in range(3)], neighbours=None
    )
    accepted = _against_rbf(
        "surface.5000.accepted",
        [_accepted(_stepped(seed, declared=False)) for seed in range(3)],
        neighbours=None,
    )
    real = _against_rbf(
        "surface.5000.real_slabs",
        [_real(seed, 5000, step_m=0.05, tracked=True) for seed in range(6200, 6203)],
        neighbours=None,
    )
    return [
        *declared.values(),
        silent["rmse_vs_rbf"],
        silent["speedup_vs_rbf"],
        accepted["rmse_vs_rbf"],
        *real.values(),
    ]


@measures("surface.50000.")
def bench_50000_readings() -> list[Figure]:
    """A hall of 30 × 50 m on a 100 mm grid."""
    warm()
    case = _real(6300, 50_000, size=(30.0, 50.0), tracked=True)
    return list(_against_rbf("surface.50000", [case], neighbours=50).values())


@measures("surface.growth")
def bench_growth() -> list[Figure]:
    """How time grows with the readings of one room: the exponent between 60 and 500, 500 and 5,000."""
    warm()
    seconds = {count: _own(_real(6400, count, step_m=0.05))[1] for count in (60, 500, 5000)}
    return [
        _plain(
            f"surface.growth_{few}_{many}",
            float(np.log(seconds[many] / seconds[few]) / np.log(many / few)),
            "power of n",
            n=many,
        )
        for few, many in ((60, 500), (500, 5000))
    ]
