"""Trips to the site, which only the schedule knows the number of."""

from slab_core.materials.rates_model import Rates
from slab_core.schedule.model import Schedule
from slab_core.takeoff.codes import LABOUR, TRIP
from slab_core.takeoff.model import LineKey, LineKind, Takeoff, TakeoffLine, Trace


def mobilisation(*, takeoff: Takeoff, schedule: Schedule, rates: Rates | None) -> tuple[TakeoffLine, ...]:
    """A vehicle's trip for each day on site and the crew's travel, unless the takeoff has trips already.

    A pour day's own hours hold its trip, so travel is counted for the other days.
    """
    if any(TRIP in (line.price_code, line.key.code) for line in takeoff.lines) or not schedule.site_days:
        return ()
    days, pours = schedule.site_days, schedule.pour_days
    trips = _line(
        code=TRIP,
        kind="equipment",
        what="Vehicle to the site and back",
        order=float(days),
        unit="each",
        price_code=TRIP,
        trace=Trace(stage="schedule", formula="one for each day on site", inputs={"site_days": str(days)}),
    )
    if rates is None or days <= pours:
        return (trips,)
    inputs = {"site_days": str(days), "pour_days": str(pours), "trip_ph": f"{rates.trip_ph:g} PH"}
    travel = _line(
        code="travel",
        kind="labour",
        what="Travel and set-up of the crew",
        order=(days - pours) * rates.trip_ph,
        unit="PH",
        price_code=LABOUR,
        trace=Trace(stage="schedule", formula="(site days - pour days) x PH a trip", inputs=inputs),
    )
    return (trips, travel)


def _line(
    *, code: str, kind: LineKind, what: str, order: float, unit: str, price_code: str, trace: Trace
) -> TakeoffLine:
    return TakeoffLine(
        key=LineKey(code=code),
        kind=kind,
        what=what,
        net=order,
        waste_share=0.0,
        order=order,
        unit=unit,
        price_code=price_code,
        trace=trace,
    )
