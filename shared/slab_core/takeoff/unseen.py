"""The takeoff of a slab that nobody has seen: everything around it is counted, and what only the slab will
tell is allowed for."""

from dataclasses import replace
from datetime import date

from slab_core.errors import Problem
from slab_core.layout.model import Layout
from slab_core.materials.model import Catalogue, Climate, Covering, Rates
from slab_core.materials.slab_kinds import age_of, believed, kind_of
from slab_core.materials.slab_kinds_model import SlabKind
from slab_core.numerics.budget import Budget
from slab_core.rooms.model import Rooms
from slab_core.takeoff.areas import work_areas
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.draws import drawn_lines, quantiles
from slab_core.takeoff.model import Scope, Site, Takeoff, TakeoffLine
from slab_core.takeoff.take_off import taken_off
from slab_core.takeoff.unseen_allowance import allowance_of
from slab_core.takeoff.unseen_draws import all_bags, unseen_chances
from slab_core.takeoff.unseen_plan import Expected, unseen_plan
from slab_core.tolerance.model import ToleranceSpec
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2


def take_off_unseen(
    *,
    rooms: Rooms,
    layouts: tuple[Layout, ...],
    tolerance: ToleranceSpec,
    catalogue: Catalogue,
    covering: Covering,
    rates: Rates,
    climate: Climate,
    site: Site,
    scope: Scope,
    may_grind: bool,
    alternate: str,
    year: int,
    seed: int,
    budget: Budget,
    begins: date | None = None,
) -> Takeoff:
    """Lines, tasks and draws as of a surveyed slab, with `allowance` beside them; `year` tells its age.

    Bags and hours are the median of what the firm believes of such slabs, whatever the rules of flatness.
    """
    kind = kind_of(
        kinds=rates.slab_kinds,
        removal=scope.removal,
        age=age_of(built_year=site.built_year, year=year),
    )
    grinding = believed(kind.grinding) if may_grind and not site.slab_has else None
    expected = Expected(bags=believed(kind.bags), grinding=grinding)
    plans = tuple(
        unseen_plan(
            floor=floor,
            expected=expected,
            compound=catalogue.compound,
            rates=rates,
            hardness=site.hardness,
            alternate=alternate,
        )
        for floor in rooms.floors
    )
    brief = Brief(
        areas=work_areas(rooms=rooms, plans=plans, layouts=layouts),
        reading_count=0,
        reports=(),
        plans=plans,
        layouts=layouts,
        catalogue=catalogue,
        covering=covering,
        rates=rates,
        climate=climate,
        site=site,
        scope=scope,
        rules=tolerance.rules,
        begins=begins,
    )
    taken = taken_off(brief=brief, alternate=alternate, budget=budget)
    lines = tuple(_told(line, kind) for line in taken.lines)
    chances = unseen_chances(brief=brief, expected=expected, seed=seed)
    return replace(
        taken,
        lines=lines,
        problems=(_unseen(brief, kind), *taken.problems),
        draws=drawn_lines(brief=brief, lines=lines, chances=chances),
        bags_needed=quantiles(all_bags(chances)),
        allowance=allowance_of(brief=brief, kind=kind, chances=chances, lines=lines),
    )


def _told(line: TakeoffLine, kind: SlabKind) -> TakeoffLine:
    """What comes of a plan says that there is none."""
    trace = line.trace
    if trace.stage != "correction":
        return line
    inputs = {**trace.inputs, "slab": f"not seen yet: {_in_words(kind)}"}
    return replace(line, trace=replace(trace, stage="takeoff", inputs=inputs))


def _in_words(kind: SlabKind) -> str:
    under = "no floor" if kind.removal == "none" else kind.removal.replace("-", " ")
    return f"usual for slabs under {under}, age {kind.age}"


def _unseen(brief: Brief, kind: SlabKind) -> Problem:
    hundreds = brief.floor_m2() / FOOT2_M2 / 100.0
    bags = sum(area.bags() for area in brief.areas)
    hours = sum(area.grinder_hours for area in brief.areas)
    detail = (
        f"nobody has seen this slab: {bags} bags and {hours:.1f} machine-hours for height "
        f"({bags / hundreds:.1f} and {hours / hundreds:.1f} per 100 ft²) are {_in_words(kind)}; survey the "
        "slab after tear-out and change the quote by order"
    )
    return Problem(code="slab-unseen", detail=detail, pointer="/options/basis")
