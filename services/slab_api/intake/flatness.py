"""How flat the floor must be and how finely it is drawn, as the core's models."""

from slab_api.intake.reader import Path, Reader
from slab_api.schemas.options import OptionsDocument
from slab_api.schemas.wanted import ToleranceDocument
from slab_core.surface.area import FINE_STEP_M
from slab_core.surface.model import SurfaceOptions
from slab_core.tolerance.classes import BY_CODE, FlatnessClass
from slab_core.tolerance.model import Rule, ToleranceSpec
from slab_core.units.display import in_both

STEPS_IN_EDGE = 6
"""An edge of fewer steps of the grid lies between nodes rather than on them, and misses lips."""

_NONE = FlatnessClass(code="", title="", rules=(), source="", seen="practice")

FINEST_STEP_M, WIDEST_STEP_M = 0.02, 0.5


def read_tolerance(tolerance: ToleranceDocument, *, reader: Reader) -> ToleranceSpec:
    """The rules that the floor must meet: those of its class, then those that were posted."""
    of_class = _class_of(tolerance, reader=reader)
    own = tuple(
        Rule(
            length_m=_edge(rule.length, ("tolerance", "rules", i, "length"), reader=reader),
            gap_m=reader.positive(rule.gap, ("tolerance", "rules", i, "gap"), vertical=True),
            kind=rule.kind,
        )
        for i, rule in enumerate(tolerance.rules)
    )
    level, posted, asked = tolerance.level, tolerance.f_numbers, of_class.f_numbers
    named = None if asked is None else asked.whole
    return ToleranceSpec(
        rules=(*of_class.rules, *own),
        level_m=None if level is None else reader.positive(level, ("tolerance", "level"), vertical=True),
        f_numbers=(posted[0], posted[1]) if posted else named,
        f_numbers_class=asked,
    )


def _class_of(tolerance: ToleranceDocument, *, reader: Reader) -> FlatnessClass:
    """The class that is asked for; one without anything, with a fault, for a name that there is not."""
    named = tolerance.flatness_class
    if named is None:
        if not tolerance.rules:
            reader.fault("give at least one rule, or a flatness_class", ("tolerance", "rules"))
        return _NONE
    if named not in BY_CODE:
        reader.fault(
            f"{named!r} is no class of this service; there are {', '.join(BY_CODE)}",
            ("tolerance", "flatness_class"),
        )
        return _NONE
    found = BY_CODE[named]
    if found.f_numbers and not tolerance.rules:
        reader.fault(
            "F-numbers tell how a floor is and not what to do to it: give at least one rule of a "
            "straightedge beside this class",
            ("tolerance", "rules"),
        )
    if found.f_numbers and tolerance.f_numbers:
        reader.fault(
            f"{named} asks for F-numbers of its own: leave f_numbers out, or the class",
            ("tolerance", "f_numbers"),
        )
    return found


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
