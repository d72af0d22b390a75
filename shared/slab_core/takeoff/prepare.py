"""Work before the slab is touched: furniture, base, the old floor and the survey."""

from collections.abc import Iterator

from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.entries import Effort, hours, m, m2, rate
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M

_READING_SPACING_M2 = 0.61**2
"""Without a survey yet, one reading for each square of two feet (common practice)."""


CLOSEST_READING_M2 = FOOT_M**2
"""Nobody shoots a slab closer than the 1 ft taken on humps; closer ones are a scan's (common practice)."""


def prepare(brief: Brief) -> tuple[Effort, ...]:
    """Efforts in the order of work."""
    return (
        *_containment(brief),
        *(effort for area in brief.areas for effort in _area(brief, area)),
    )


def _area(brief: Brief, area: WorkArea) -> Iterator[Effort]:
    rates, scope = brief.rates, brief.scope
    yield from furniture(brief, area=area, code="furniture-out")
    if scope.base_off:
        yield Effort(
            code="base-off",
            floor=area.floor,
            phase=area.phase,
            person_hours=area.wall_m / rates.base_off_m_per_ph,
            formula="wall / rate",
            inputs={"wall": m(area.wall_m), "rate": rate(rates.base_off_m_per_ph, "m a PH")},
            stage="rooms",
        )
    if scope.removal != "none":
        speed = rates.remove_m2_per_ph[scope.removal]
        yield Effort(
            code="tear-out",
            floor=area.floor,
            phase=area.phase,
            person_hours=area.m2 / speed,
            formula="floor / rate for what comes out",
            inputs={"floor": m2(area.m2), "removal": scope.removal, "rate": rate(speed, "m² a PH")},
            stage="rooms",
        )
    yield _survey(brief, area)


def furniture(brief: Brief, *, area: WorkArea, code: str) -> Iterator[Effort]:
    """Rooms with furniture are counted off in the order of the areas; with phases, each moves its own."""
    before = sum(len(a.rooms) for a in brief.areas[: brief.areas.index(area)])
    left = max(0, brief.scope.furniture_rooms - before)
    rooms = left if area is brief.areas[-1] else min(left, len(area.rooms))
    if not rooms:
        return
    yield Effort(
        code=code,
        floor=area.floor,
        phase=area.phase,
        person_hours=rooms * brief.rates.furniture_ph_per_room,
        formula="rooms with furniture × hours a room, each way",
        inputs={"rooms": str(rooms), "rate": rate(brief.rates.furniture_ph_per_room, "PH a room")},
    )


def makes_dust(brief: Brief) -> bool:
    """Whether anything is ground or broken out."""
    grinds = any(a.grinder_hours + a.hand_grinder_hours > 0 for a in brief.areas)
    return grinds or brief.bonds() or brief.scope.removal == "tile"


def _containment(brief: Brief) -> Iterator[Effort]:
    if makes_dust(brief):
        yield Effort(
            code="containment",
            floor="",
            phase=0,
            person_hours=brief.rates.containment_ph,
            formula="once a job where dust is made",
            inputs={"hours": hours(brief.rates.containment_ph)},
        )


def _survey(brief: Brief, area: WorkArea) -> Effort:
    """Readings one by one, and setups of a scanner; each area bears its share of the floor."""
    readings, formula, stage = _readings(brief, area)
    inputs = {
        "readings": f"{readings:.0f}",
        "floor": m2(area.m2),
        "rate": rate(brief.rates.survey_readings_per_ph, "readings a PH"),
    }
    person_hours = readings / brief.rates.survey_readings_per_ph
    if brief.scans:
        inputs |= {
            "scans": str(len(brief.scans)),
            "with targets": str(brief.scans_with_targets()),
            "setup": rate(brief.rates.scan_setup_ph, "PH a scan"),
            "targets": rate(brief.rates.scan_targets_ph, "PH a scan with targets"),
        }
        scanned = len(brief.scans) * brief.rates.scan_setup_ph
        scanned += brief.scans_with_targets() * brief.rates.scan_targets_ph
        person_hours += scanned * area.m2 / brief.floor_m2()
        formula += " + (scans × setup + scans with targets × targets) × the area's share of the floor"
    return Effort(
        code="survey",
        floor=area.floor,
        phase=area.phase,
        person_hours=person_hours,
        formula=formula,
        inputs=inputs,
        stage=stage,
    )


def _readings(brief: Brief, area: WorkArea) -> tuple[float, str, str]:
    """How many are shot on an area, by which formula, from which stage."""
    if not brief.reading_count and not brief.scans:
        return area.m2 / _READING_SPACING_M2, "a reading every 2 ft, since none are in yet / rate", "rooms"
    readings, most = brief.reading_count * area.m2 / brief.floor_m2(), area.m2 / CLOSEST_READING_M2
    if readings <= most:
        return readings, "readings × the area's share of the floor / rate", "surveys"
    closer = "a reading for each square foot, since closer ones are scanned and not shot one by one / rate"
    return most, closer, "surveys"
