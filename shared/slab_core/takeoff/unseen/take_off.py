"""The takeoff of a slab that nobody has seen: everything around it is counted, and what only the slab will
tell is allowed for."""

from dataclasses import replace
from datetime import date
from math import log1p

from slab_core.errors import Problem
from slab_core.layout.model import Layout
from slab_core.materials.model import Catalogue, Climate, Covering
from slab_core.materials.rates_model import Rates
from slab_core.materials.slab_kinds import Believed, age_of, believed, kind_of
from slab_core.materials.slab_kinds_model import SlabKind
from slab_core.numerics.budget import Budget
from slab_core.rooms.geometry import kept_off
from slab_core.rooms.model import Rooms
from slab_core.stages import CHEAPEST
from slab_core.takeoff.areas import work_areas
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.draws import drawn_lines, quantiles
from slab_core.takeoff.model import Scope, Site, Takeoff, TakeoffLine
from slab_core.takeoff.take_off import taken_off
from slab_core.takeoff.unseen.allowance import allowance_of
from slab_core.takeoff.unseen.draws import all_bags, unseen_chances
from slab_core.takeoff.unseen.plan import Expected, unseen_plan
from slab_core.takeoff.unseen.rule import CheapestShare, of_the_cheapest, share_under
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
    corrected_as: str,
    alternate: str,
    year: int,
    seed: int,
    budget: Budget,
    begins: date | None = None,
) -> Takeoff:
    """Lines, tasks and draws as of a surveyed slab, with `allowance` beside them; `year` tells its age.

    Bags and hours are the median of what the firm believes of such slabs brought to one plane, whatever the
    rules of flatness; `corrected_as` the cheapest floor, bags are the share of it that the rules ask for.
    """
    kind = kind_of(
        kinds=rates.slab_kinds,
        removal=scope.removal,
        age=age_of(built_year=site.built_year, year=year),
    )
    grinding = _grinding(kind, rooms=rooms) if may_grind and not site.slab_has else None
    share = share_under(tolerance.rules) if corrected_as == CHEAPEST else None
    expected = Expected(bags=believed(kind.bags), grinding=grinding)
    if share is not None:
        expected = of_the_cheapest(expected=expected, share=share)
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
    usual = _in_words(kind, share)
    lines = tuple(_told(line, usual) for line in taken.lines)
    chances = unseen_chances(brief=brief, expected=expected, seed=seed)
    return replace(
        taken,
        lines=lines,
        problems=(_unseen(brief, usual), *taken.problems),
        draws=drawn_lines(brief=brief, lines=lines, chances=chances),
        bags_needed=quantiles(all_bags(chances)),
        allowance=replace(
            allowance_of(brief=brief, kind=kind, chances=chances, lines=lines),
            corrected_as=corrected_as,
            bags_share=share.bags if share else 1.0,
        ),
    )


def _grinding(kind: SlabKind, *, rooms: Rooms) -> Believed | None:
    """What is believed for each m² of the job, of which keep-out zones are not ground."""
    whole = sum(floor.area_m2 for floor in rooms.floors)
    kept = sum(kept_off(room)[0] for floor in rooms.floors for room in floor.rooms)
    if kept >= whole:
        return None
    usual = believed(kind.grinding)
    return replace(usual, mean=usual.mean + log1p(-kept / whole)) if kept else usual


def _told(line: TakeoffLine, usual: str) -> TakeoffLine:
    """What comes of a plan says that there is none."""
    trace = line.trace
    if trace.stage != "correction":
        return line
    inputs = {**trace.inputs, "slab": f"not seen yet: {usual}"}
    return replace(line, trace=replace(trace, stage="takeoff", inputs=inputs))


def _in_words(kind: SlabKind, share: CheapestShare | None) -> str:
    under = "no floor" if kind.removal == "none" else kind.removal.replace("-", " ")
    usual = f"usual for slabs under {under}, age {kind.age}"
    if share is None:
        return usual
    of_a_plane = f"{share.bags:.2f} of the bags of one plane, as the cheapest floor took of invented slabs"
    return f"{usual}, with {of_a_plane}"


def _unseen(brief: Brief, usual: str) -> Problem:
    hundreds = brief.floor_m2() / FOOT2_M2 / 100.0
    bags = sum(area.bags() for area in brief.areas)
    hours = sum(area.grinder_hours for area in brief.areas)
    detail = (
        f"nobody has seen this slab: {bags} bags and {hours:.1f} machine-hours for height "
        f"({bags / hundreds:.1f} and {hours / hundreds:.1f} per 100 ft²) are {usual}; survey the "
        "slab after tear-out and change the quote by order"
    )
    return Problem(code="slab-unseen", detail=detail, pointer="/options/basis")
