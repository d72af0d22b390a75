"""How flat the floor must be and how finely it is drawn, as the core's models."""

from slab_api.intake.reader import Path, Reader
from slab_api.schemas.options import OptionsDocument
from slab_api.schemas.wanted import ToleranceDocument
from slab_core.surface.area import FINE_STEP_M
from slab_core.surface.model import SurfaceOptions
from slab_core.tolerance.classes import BY_CODE
from slab_core.tolerance.model import Rule, ToleranceSpec
from slab_core.units.display import in_both

STEPS_IN_EDGE = 6
"""An edge of fewer steps of the grid lies between nodes rather than on them, and misses lips."""

FINEST_STEP_M, WIDEST_STEP_M = 0.02, 0.5


def read_tolerance(tolerance: ToleranceDocument, *, reader: Reader) -> ToleranceSpec:
    """The rules that the floor must meet: those of its class, then those that were posted."""
    named = tolerance.flatness_class
    if named is not None and named not in BY_CODE:
        reader.fault(
            f"{named!r} is no class of this service; there are {', '.join(BY_CODE)}",
            ("tolerance", "flatness_class"),
        )
    if named is None and not tolerance.rules:
        reader.fault("give at least one rule, or a flatness_class", ("tolerance", "rules"))
    own = tuple(
        Rule(
            length_m=_edge(rule.length, ("tolerance", "rules", i, "length"), reader=reader),
            gap_m=reader.positive(rule.gap, ("tolerance", "rules", i, "gap"), vertical=True),
            kind=rule.kind,
        )
        for i, rule in enumerate(tolerance.rules)
    )
    level = tolerance.level
    f_numbers = tolerance.f_numbers
    return ToleranceSpec(
        rules=(*_rules_of(named), *own),
        level_m=None if level is None else reader.positive(level, ("tolerance", "level"), vertical=True),
        f_numbers=None if f_numbers is None else (f_numbers[0], f_numbers[1]),
    )


def _rules_of(named: str | None) -> tuple[Rule, ...]:
    return BY_CODE[named].rules if named in BY_CODE else ()


def _edge(length: float | str, at: Path, *, reader: Reader) -> float:
    found = reader.positive(length, at)
    least = STEPS_IN_EDGE * FINE_STEP_M
    if 0.0 < found < least:
        reader.fault(
            f"an edge of {in_both(found)} is shorter than {in_both(least)}, {STEPS_IN_EDGE} steps of the "
            "finest surface, and would miss the lips between them; edges are usually 2 to 10 ft long: say "
            'the unit, for example "10 ft"',
            at,
        )
    return found


def read_surface(options: OptionsDocument, *, tolerance: ToleranceSpec, reader: Reader) -> SurfaceOptions:
    """How finely surfaces are drawn: finely enough for the shortest edge."""
    if options.grid_step is None:
        return SurfaceOptions()
    at: Path = ("options", "grid_step")
    step = reader.positive(options.grid_step, at)
    shown = [rule.length_m for rule in tolerance.rules if rule.length_m >= STEPS_IN_EDGE * FINE_STEP_M]
    widest = min([WIDEST_STEP_M, *(length_m / STEPS_IN_EDGE for length_m in shown)])
    if not FINEST_STEP_M <= step <= widest:
        reader.fault(
            f"a grid step lies between {in_both(FINEST_STEP_M)} and, for the shortest edge of these rules, "
            f"{in_both(widest)}; {in_both(step)} was given",
            at,
        )
    return SurfaceOptions(grid_step_m=step)
