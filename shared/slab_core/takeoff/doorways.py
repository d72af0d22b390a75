"""Work and strips at doorways that a plan meets by a ramp, another transition or a cut door. The compound and
the grinding of ramps are in the plan's own."""

from collections.abc import Iterator

from slab_core.correction.ramps_model import DoorWay, DoorWork
from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.entries import Effort, Supply, hours, m, rate
from slab_core.takeoff.items import from_item

STRIP = "reducer"
"""The catalogue's item that a changed transition is made with."""


def doorways_of(brief: Brief, area: WorkArea, *ways: DoorWay) -> tuple[DoorWork, ...]:
    """What the plan does so at the doorways of the area's rooms."""
    rooms = {room.id for room in area.rooms}
    every = brief.plan(area.floor).doorways
    return tuple(work for work in every if work.way in ways and work.room in rooms)


def said(works: tuple[DoorWork, ...]) -> dict[str, str]:
    """Hours by doorway for a trace."""
    return {f"{work.room}/{work.opening}, {work.way}": hours(work.person_hours) for work in works}


def set_transitions(brief: Brief, area: WorkArea) -> Iterator[Effort]:
    """Strips of the layout, and doorways with another transition or a cut door."""
    strips_m = sum(strip.length_m for strip in area.transitions)
    changed = doorways_of(brief, area, "transition", "cut")
    if strips_m <= 0 and not changed:
        return
    per_ph = brief.rates.transition_m_per_ph
    yield Effort(
        code="transitions",
        floor=area.floor,
        phase=area.phase,
        person_hours=strips_m / per_ph + sum(work.person_hours for work in changed),
        formula="strips / rate" + (" + hours at doorways" if changed else ""),
        inputs={"strips": m(strips_m), "rate": rate(per_ph, "m a PH"), **said(changed)},
        stage="layout",
    )


def changed_transitions(brief: Brief) -> Iterator[Supply]:
    """A strip for each doorway that gets another transition; the usual one stays counted, as its price is
    small and it may have been bought."""
    doors = [work for area in brief.areas for work in doorways_of(brief, area, "transition")]
    item = brief.item(STRIP)
    if doors and item is not None:
        yield from from_item(
            brief,
            code="doorway-transition",
            item=STRIP,
            net=item.package.size * len(doors),
            packages=len(doors),
            formula="one for each doorway that gets another transition",
            inputs={"doorways": ", ".join(f"{work.room}/{work.opening}" for work in doors)},
            stage="correction",
        )
