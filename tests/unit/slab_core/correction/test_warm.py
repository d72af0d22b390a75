"""What is compiled before the fork is what a plan uses."""

from slab_core.correction import kernels
from slab_core.correction.optimum import kernels as optimum_kernels
from slab_core.correction.optimum import lattice as optimum_lattice
from slab_core.correction.optimum import steps as optimum_steps
from slab_core.correction.optimum import supports as optimum_supports
from slab_core.correction.optimum.heights import unrestricted_optimum
from slab_core.correction.warm import warm
from slab_core.numerics.budget import Budget
from slab_core.tolerance import hulls, pairs
from slab_core.tolerance.model import Rule
from tests.invented_floors import INCH_M, rectangle, trough, work
from tests.unit.slab_core.correction.optimum.test_heights import demand, wavy


def compiled() -> list[int]:
    loops = (kernels.relaxed_cost, kernels.extremes, kernels.classify, kernels.add_up)
    return [len(loop.signatures) for loop in loops]


def test_a_plan_compiles_nothing_that_warming_has_not() -> None:
    warm()
    before = compiled()
    floor = rectangle(width_m=3.0, length_m=4.0)
    work(floor=floor, height_m=trough(width_m=3.0, depth_m=INCH_M / 2), columns=30).plan()
    assert compiled() == before
    assert all(count == 1 for count in before)


def test_an_optimum_compiles_nothing_that_warming_has_not() -> None:
    modules = (optimum_kernels, optimum_lattice, optimum_steps, optimum_supports)
    loops = [loop for module in modules for loop in vars(module).values() if hasattr(loop, "signatures")]
    assert len(loops) >= 9
    warm()
    before = [len(loop.signatures) for loop in loops]
    assert all(count <= 1 for count in before)  # those called by other kernels alone have none
    unrestricted_optimum(demand=demand(wavy(5, shape=(37, 34), high_mm=3.0)), budget=Budget())
    assert [len(loop.signatures) for loop in loops] == before


def test_departures_of_a_chord_or_a_long_edge_are_compiled_by_warming() -> None:
    warm()
    loops = (vars(hulls)["scan_runs"], vars(pairs)["scan_pairs"])
    before = [list(loop.signatures) for loop in loops]
    for rule in (Rule(length_m=1.0, gap_m=0.002, kind="chord"), Rule(length_m=20.0, gap_m=0.002)):
        asked = demand(wavy(5, shape=(37, 34), high_mm=3.0), rules=(rule,))
        unrestricted_optimum(demand=asked, budget=Budget())
    assert [list(loop.signatures) for loop in loops] == before
