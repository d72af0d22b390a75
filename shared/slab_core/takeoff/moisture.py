"""Moisture tests: how many, and where a result expires before the boards are down and another is due.

The days are estimated from the quantities alone, since the schedule comes after the takeoff; it then
keeps the least and the greatest wait of every result or says which it cannot.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from slab_core.materials.drying import cover_hours
from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.brief import Brief, moisture_test_count
from slab_core.takeoff.codes import MOISTURE_VALID_HOURS
from slab_core.takeoff.entries import Effort, Supply, hours, m2, rate
from slab_core.takeoff.items import from_item
from slab_core.takeoff.model import SlabState
from slab_core.units.display import inches, millimetres

DAYS_A_WORKING_DAY = 7 / 5
"""Calendar days for each day of a five-day week."""

SHARE_FOR_LAYING = 0.8
"""Part of a result's time that the boards laid on it may take; the rest is for what comes between."""

ON_POUR_DAYS = frozenset({"prime", "pour"})
BEFORE_THE_TEST = frozenset({"furniture-out", "base-off", "tear-out", "survey"})
AFTER_THE_BOARDS = frozenset({"transitions", "trim", "carpet-edge", "clean", "furniture-in"})
_COUNT = "three for the first 1,000 ft², then one for each 1,000 ft² (ASTM F2170)"
_WHERE = "one within 3 ft of each exterior wall on or below grade"
_CONDITIONS = "slab and air as in service for 48 h before; read 24 h after drilling, by older editions 72 h"
ONE_SIDE, BOTH_SIDES = 0.4, 0.2
"""How deep the holes are, as a share of the slab's thickness, by the sides that it dries to (ASTM F2170
§10.2)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One round of tests in one phase, 0 for the job as a whole, whose exterior walls all need a test nearby.
    `why` is set where a result would expire."""

    code: str
    phase: int
    m2: float
    part: str = ""
    why: str = ""
    exterior_walls: int = 0

    def tests(self) -> int:
        """How many tests the round has."""
        return moisture_test_count(floor_m2=self.m2, exterior_walls=self.exterior_walls)


def visits(brief: Brief, efforts: tuple[Effort, ...]) -> tuple[Visit, ...]:
    """Every round of tests of the job, from the hours of all other work; none where nobody may drill.

    A phase whose boards come later than a result of the first phase lasts has tests of its own, and a phase
    whose own work takes longer has them taken again before its first spread, and during laying if that alone
    is long.
    """
    if not brief.scope.moisture_tests or brief.no_grinding():
        return ()
    first = min(area.phase for area in brief.areas)
    before, shared, made = 0.0, 0.0, list[Visit]()
    for phase in sorted({area.phase for area in brief.areas}):
        areas = tuple(area for area in brief.areas if area.phase == phase)
        floor, own = sum(area.m2 for area in areas), phase_hours(brief, areas=areas, efforts=efforts)
        apart = phase > first and before + own > MOISTURE_VALID_HOURS
        if apart:
            why = f"phase {phase} is laid about {hours(before + own)} after the slab was first tested"
            made.append(Visit(code="moisture-test", phase=phase, m2=floor, why=why))
        else:
            shared += floor
        made.extend(_again(brief, phase=phase, floor_m2=floor, elapsed_h=own, efforts=efforts))
        before += own + _outside_hours(brief, phase=phase, efforts=efforts)
    walls = brief.site.slab.exterior_walls or 0
    return (Visit(code="moisture-test", phase=0, m2=shared, exterior_walls=walls), *made)


def phase_hours(brief: Brief, *, areas: tuple[WorkArea, ...], efforts: tuple[Effort, ...]) -> float:
    """About the elapsed hours from the test of a phase to its last spread: its pour days and the rest of its
    work by the whole crew, over weeks of five days, and the drying of its deepest pour for wood."""
    phase = areas[0].phase
    inside = BEFORE_THE_TEST | AFTER_THE_BOARDS | ON_POUR_DAYS
    work = _person_hours(efforts, phase, without=inside)
    pour_days = sum(area.pour_days for area in areas)
    deepest = max((pour.greatest_depth_m for area in areas for pour in area.pours), default=0.0)
    compound, climate = brief.catalogue.compound, brief.climate
    dry = cover_hours(compound=compound, depth_m=deepest, climate=climate) if deepest > 0 else 0.0
    return _elapsed(work / brief.rates.day_ph() + pour_days) + dry


def moisture_work(brief: Brief, rounds: tuple[Visit, ...]) -> Iterator[Effort]:
    """The hours of every round."""
    each = brief.rates.moisture_test_ph
    for visit in rounds:
        because = f"; {visit.why}, and a result lasts {MOISTURE_VALID_HOURS:g} h" if visit.why else ""
        yield Effort(
            code=visit.code,
            floor="",
            phase=visit.phase,
            person_hours=visit.tests() * each,
            formula=f"tests × hours to drill, set and read one; {_COUNT}, {_WHERE}{because}",
            inputs={
                "tests": str(visit.tests()),
                "floor": m2(visit.m2),
                "rate": rate(each, "PH a test"),
                "holes": _depth(brief.site.slab),
                "conditions": _CONDITIONS,
            },
            part=visit.part,
        )


def _depth(slab: SlabState) -> str:
    share = BOTH_SIDES if slab.dries_both_ways else ONE_SIDE
    if slab.thickness_m is not None:
        deep, thick = share * slab.thickness_m, inches(slab.thickness_m)
        return f"{inches(deep, denominator=8)} ({millimetres(deep)}) deep, {share:.0%} of a slab of {thick}"
    if slab.dries_both_ways:
        return f"{share:.0%} of the slab's thickness deep"
    return f"{share:.0%} of the slab's thickness deep, {BOTH_SIDES:.0%} where it dries to both sides"


def probes(brief: Brief, rounds: tuple[Visit, ...]) -> Iterator[Supply]:
    """A probe for every test: those set before a pour lie under it."""
    count = sum(visit.tests() for visit in rounds)
    again = sum(visit.tests() for visit in rounds if visit.why)
    yield from from_item(
        brief,
        code="moisture-probe",
        item="moisture-probe",
        net=float(count),
        formula=f"tests: {_COUNT}",
        inputs={
            "floor": m2(brief.floor_m2()),
            **({"tests since a result expires": str(again)} if again else {}),
        },
    )


def _again(
    brief: Brief, *, phase: int, floor_m2: float, elapsed_h: float, efforts: tuple[Effort, ...]
) -> Iterator[Visit]:
    spreads = [effort for effort in efforts if effort.code == "spread" and effort.phase == phase]
    if elapsed_h <= MOISTURE_VALID_HOURS or not spreads:
        return
    laying = _elapsed(sum(effort.person_hours for effort in spreads) / brief.rates.day_ph())
    count = min(max(1, ceil(laying / (SHARE_FOR_LAYING * MOISTURE_VALID_HOURS))), len(spreads))
    why = f"about {hours(elapsed_h)} from the first test to the last spread, {hours(laying)} of them laying"
    for n in range(1, count + 1):
        part = f"round-{n}" if count > 1 else ""
        yield Visit(code="moisture-retest", phase=phase, m2=floor_m2 / count, part=part, why=why)


def _outside_hours(brief: Brief, *, phase: int, efforts: tuple[Effort, ...]) -> float:
    """Elapsed hours of a phase before its slab is bare and after its boards are down."""
    outside = BEFORE_THE_TEST | AFTER_THE_BOARDS
    work = sum(e.person_hours for e in efforts if e.phase == phase and e.code in outside)
    return _elapsed(work / brief.rates.day_ph())


def _person_hours(efforts: tuple[Effort, ...], phase: int, *, without: frozenset[str]) -> float:
    return sum(e.person_hours for e in efforts if e.phase == phase and e.code not in without)


def _elapsed(working_days: float) -> float:
    return 24.0 * DAYS_A_WORKING_DAY * working_days
