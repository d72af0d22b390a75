"""Entries of the takeoff before they are added up: work to do and things to buy."""

from dataclasses import dataclass
from itertools import groupby
from math import ceil

from slab_core.materials.model import Package
from slab_core.takeoff.codes import LABOUR, MACHINES, TASK
from slab_core.takeoff.model import LineKey, LineKind, TakeoffLine, Task, Trace

STAGE = "takeoff"

LEFT_OVER = "left over"
"""The input of a line's trace that tells what remains of its packages."""

_MACHINE_UNIT = {machine.code: machine.unit for machine in MACHINES}


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """Work of one task: person-hours, and machine-hours by machine. Floor "" and phase 0 is the whole job."""

    code: str
    floor: str
    phase: int
    person_hours: float
    formula: str
    inputs: dict[str, str]
    machines: tuple[tuple[str, float], ...] = ()
    part: str = ""
    depth_m: float = 0.0
    lift: int = 0
    bags: int = 0
    free: bool = False
    least_people: int = 0
    stage: str = STAGE


def task_of(effort: Effort) -> Task:
    """The task for the schedule; the machine of its code is busy for that machine's hours."""
    code = TASK[effort.code]
    return Task(
        code=code.code,
        what=code.what,
        floor=effort.floor,
        phase=effort.phase,
        person_hours=effort.person_hours,
        machine_hours=sum(hours for machine, hours in effort.machines if machine == code.machine),
        machine=code.machine,
        least_people=max(effort.least_people, code.least_people),
        most_people=max(effort.least_people, code.most_people),
        part=effort.part,
        depth_m=effort.depth_m,
        lift=effort.lift,
        bags=effort.bags,
        free=effort.free,
    )


def effort_lines(efforts: tuple[Effort, ...]) -> list[TakeoffLine]:
    """A labour line for each code, floor and phase, and an equipment line for each machine in it that is
    priced by the hour."""
    ordered = sorted(efforts, key=_place)
    lines: list[TakeoffLine] = []
    for _, group in groupby(ordered, key=_place):
        lines.extend(_lines_of(list(group)))
    return lines


def _place(effort: Effort) -> tuple[str, str, int]:
    return (effort.code, effort.floor, effort.phase)


def _lines_of(efforts: list[Effort]) -> list[TakeoffLine]:
    first = efforts[0]
    hours = {"PH": sum(effort.person_hours for effort in efforts)}
    for machine, mh in (pair for effort in efforts for pair in effort.machines):
        hours[machine] = hours.get(machine, 0.0) + mh
    inputs = dict(first.inputs)
    if len(efforts) > 1:
        inputs = {e.part: ", ".join(f"{k} {v}" for k, v in e.inputs.items()) for e in efforts}
    return [
        plain_line(
            key=LineKey(
                code=first.code,
                floor=first.floor,
                phase=first.phase,
                product="" if code == "PH" else code,
            ),
            kind="labour" if code == "PH" else "equipment",
            what=TASK[first.code].what,
            quantity=quantity,
            unit="PH" if code == "PH" else "mh",
            price_code=LABOUR if code == "PH" else code,
            trace=Trace(stage=first.stage, formula=first.formula, inputs=inputs),
        )
        for code, quantity in hours.items()
        if quantity > 0 and (code == "PH" or _MACHINE_UNIT[code] == "mh")
    ]


def plain_line(
    *,
    key: LineKey,
    kind: LineKind,
    what: str,
    quantity: float,
    unit: str,
    price_code: str,
    trace: Trace,
) -> TakeoffLine:
    """A line that is not bought in packages."""
    return TakeoffLine(
        key=key,
        kind=kind,
        what=what,
        net=quantity,
        waste_share=0.0,
        order=quantity,
        unit=unit,
        price_code=price_code,
        trace=trace,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Material needed once for the whole job: `net` in the package's own measure, before waste. `left_over`
    is given where something else remains than what packages hold beyond net and waste."""

    code: str
    product: str
    name: str
    package: Package
    net: float
    formula: str
    inputs: dict[str, str]
    waste_share: float = 0.0
    packages: int | None = None
    left_over: float | None = None
    floor: str = ""
    phase: int = 0
    stage: str = STAGE


def whole_packages(*, net: float, waste_share: float, size: float) -> int:
    """⌈q·(1 + waste)/size⌉, forgiving the last bit of a float."""
    return ceil(net * (1.0 + waste_share) / size - 1e-9)


def supply_line(supply: Supply) -> TakeoffLine:
    """The line to order; `packages` given overrules the rounding, for what is rounded elsewhere."""
    package, measure = supply.package, _MEASURE[supply.package.size_unit]
    order = supply.packages
    if order is None:
        order = whole_packages(net=supply.net, waste_share=supply.waste_share, size=package.size)
    left = supply.left_over
    if left is None:
        left = max(0.0, order * package.size - supply.net * (1.0 + supply.waste_share))
    inputs = {
        LEFT_OVER: left_told(left, unit=measure, size=package.size, package=package.unit),
        **supply.inputs,
        "package": f"{package.size:.4g} {measure} a {package.unit}",
    }
    return TakeoffLine(
        key=LineKey(code=supply.code, floor=supply.floor, phase=supply.phase, product=supply.product),
        kind="material",
        what=supply.name,
        net=supply.net,
        waste_share=supply.waste_share,
        order=float(order),
        unit=measure,
        price_code=supply.product,
        trace=Trace(stage=supply.stage, formula=supply.formula, inputs=inputs),
        package=package.unit,
        package_size=package.size,
        weight_kg=order * package.weight_kg,
        left_over=left,
    )


def left_told(left: float, *, unit: str, size: float, package: str) -> str:
    """What remains, for a trace: in the unit of the line and in packages, which may be the same."""
    return f"{left:.4g} {unit}" + ("" if unit == package else f", {left / size:.2f} {package}")


_MEASURE = {"m3": "m³", "m2": "m²", "m": "m", "L": "L", "each": "each"}


def m2(value: float) -> str:
    """An area for a trace."""
    return f"{value:.2f} m²"


def m(value: float) -> str:
    """A length for a trace."""
    return f"{value:.2f} m"


def hours(value: float) -> str:
    """Hours for a trace."""
    return f"{value:.2f} h"


def rate(value: float, unit: str) -> str:
    """A rate for a trace."""
    return f"{value:.3g} {unit}"
