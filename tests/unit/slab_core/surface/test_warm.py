"""Warming compiles everything that fitting and drawing call, so that no worker compiles within a step."""

import sys
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

import numpy as np
from numba.core.registry import CPUDispatcher

from slab_core.numerics.budget import Budget
from slab_core.surface.fit import fit_surface
from slab_core.surface.model import SurfaceOptions
from slab_core.surface.sample import draw
from slab_core.surface.warm import warm
from tests.slabs import make_slab, random_places, read_slab, stepped


def _compiled() -> dict[str, int]:
    """For how many kinds of arguments each kernel is compiled."""
    return {
        f"{module.__name__}.{name}": len(value.signatures)
        for module in tuple(sys.modules.values())
        if getattr(module, "__name__", "").startswith("slab_core.")
        for name, value in vars(module).items()
        if isinstance(value, CPUDispatcher)
    }


def _compiled_after_warming() -> tuple[int, list[str]]:
    """How many kernels warming compiled, and what a fit with a suspected step and draws then compile."""
    warm()
    before = _compiled()
    rng = np.random.default_rng(0)
    slab = stepped(make_slab(rng=rng), at_m=2.3, step_m=0.01)
    places = random_places(floor=slab.floor, count=400, rng=rng)
    seen = read_slab(slab=slab, places=places, rng=rng, position_sd_m=0.002)
    options = SurfaceOptions(grid_step_m=0.1)
    surface = fit_surface(floor=slab.floor, observations=seen, options=options, budget=Budget())
    assert surface.suspected_steps  # else the search did not go to its end
    draw(spline=surface.spline, grid=surface.grid, count=2, rng=rng)
    after = _compiled()
    return sum(map(bool, before.values())), [name for name in after if after[name] != before.get(name)]


def test_warming_compiles_what_fitting_and_drawing_call() -> None:
    # In a process of its own, as other tests compile kernels in this one.
    with ProcessPoolExecutor(max_workers=1, mp_context=get_context("spawn")) as other:
        warmed, missing = other.submit(_compiled_after_warming).result()
    assert warmed > 10
    assert missing == []
