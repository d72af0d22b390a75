"""Warnings where a job's quantities are outside what such jobs usually take.

The ranges are common practice with no single source, per 100 ft² of floor; those of primer follow the coats
and the slab, those of the hours what is in the scope. Mean fill and grinding
depth are looked at where the plan is made. That bags should not fall when the tolerance tightens
needs two plans to compare and is not looked at here.
"""

from collections.abc import Iterator
from typing import NamedTuple

from slab_core.errors import Problem
from slab_core.takeoff.board_supplies import board_waste_share
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.codes import FLOOR_GRINDER, TRIP
from slab_core.takeoff.entries import Effort, Supply
from slab_core.takeoff.filling import batch_minutes, prime_coats
from slab_core.takeoff.machines import machine_hours
from slab_core.takeoff.model import TakeoffLine
from slab_core.takeoff.moisture import Visit
from slab_core.takeoff.slab_supplies import reprimed_m2
from slab_core.takeoff.usual_hours import usual_parts
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.conversions import us_gallons

MANY_BAGS = 12.0
"""Per 100 ft²: a wrong datum, or filling to level."""


class Usual(NamedTuple):
    """A usual range per 100 ft²."""

    code: str
    what: str
    low: float
    high: float
    unit: str


BAGS = Usual("bags", "compound", 2.0, 8.0, "bags")
GRINDER = Usual("grinder", "grinding with the large machine", 1.0, 4.0, "mh")
ADHESIVE = Usual("adhesive", "adhesive", 2.0, 4.0, "gal")
PRIMER_A_COAT = {"porous": (0.25, 0.6), "dense": (0.2, 0.6)}
"""Gallons per 100 ft² and coat."""

WASTE_LOW, WASTE_HIGH = 0.05, 0.10


def second_look(
    *,
    brief: Brief,
    efforts: tuple[Effort, ...],
    supplies: tuple[Supply, ...],
    lines: tuple[TakeoffLine, ...],
    rounds: tuple[Visit, ...],
) -> tuple[Problem, ...]:
    """Warnings with the value and the usual range."""
    hundreds = brief.floor_m2() / FOOT2_M2 / 100.0
    bags = sum(area.bags() for area in brief.areas)
    grinder = machine_hours(efforts, FLOOR_GRINDER)
    return (
        *_bags(brief, bags / hundreds),
        *_pot_life(brief, pours=bags > 0),
        *_outside(GRINDER, grinder / hundreds, asked=grinder > 0),
        *_primer(brief, _gallons(supplies, "primer")),
        *_outside(ADHESIVE, _gallons(supplies, "adhesive") / hundreds, asked=True),
        *_work(brief, lines, rounds),
        *_waste(board_waste_share(brief)),
        *_left_out(brief, efforts),
    )


def _gallons(supplies: tuple[Supply, ...], code: str) -> float:
    return us_gallons(sum(s.net * (1.0 + s.waste_share) for s in supplies if s.code == code))


def _warning(code: str, detail: str) -> Problem:
    return Problem(code=f"second-look-{code}", detail=detail, severity="warning")


def _outside(usual: Usual, value: float, *, asked: bool) -> Iterator[Problem]:
    if asked and not usual.low - 1e-9 <= value <= usual.high + 1e-9:
        yield _warning(
            usual.code,
            f"{usual.what}: {value:.1f} {usual.unit} per 100 ft²; jobs like this usually take "
            f"{usual.low:g} to {usual.high:g}. Look again before this is sent.",
        )


def _bags(brief: Brief, value: float) -> Iterator[Problem]:
    if value > MANY_BAGS:
        yield _warning(
            "many-bags",
            f"compound: {value:.1f} bags per 100 ft², where 2 to 8 are usual. Over {MANY_BAGS:g} the "
            "datum is wrong or "
            "the floor is being filled to level where flat would do.",
        )
        return
    flat = all(report.passes for report in brief.reports)
    worked = any(area.patches or area.ground_m3 > 0 for area in brief.areas)
    yield from _outside(BAGS, value, asked=value > 0 or not (flat or worked))


def _pot_life(brief: Brief, *, pours: bool) -> Iterator[Problem]:
    pot_life, batch = brief.catalogue.compound.pot_life_minutes, batch_minutes(brief.rates)
    if pours and pot_life is not None and batch > pot_life:
        yield _warning(
            "pot-life",
            f"{brief.catalogue.compound.name}: a batch takes by the rates {batch:.0f} min to be poured, "
            f"and it sets after {pot_life:g} min. Mix smaller batches or have more people pour.",
        )


def _primer(brief: Brief, gallons: float) -> Iterator[Problem]:
    filled = sum(area.poured_m2 for area in brief.areas)
    coats = (filled * prime_coats(brief) + reprimed_m2(brief)) / FOOT2_M2 / 100.0
    low, high = PRIMER_A_COAT[brief.site.porosity]
    if filled > 0 and not low - 1e-9 <= gallons / coats <= high + 1e-9:
        yield _warning(
            "primer",
            f"primer: {gallons / coats:.2f} gal per 100 ft² and coat; a {brief.site.porosity} slab usually "
            f"takes {low:g} to {high:g}. Look again before this is sent.",
        )


def _work(brief: Brief, lines: tuple[TakeoffLine, ...], rounds: tuple[Visit, ...]) -> Iterator[Problem]:
    hundreds = brief.floor_m2() / FOOT2_M2 / 100.0
    work = sum(line.order for line in lines if line.kind == "labour") / hundreds
    trips = sum(line.order for line in lines if line.price_code == TRIP)
    free = max(0.0, trips - sum(plan.pour_days for plan in brief.plans))
    parts = usual_parts(brief, rounds=rounds, trips=free)
    low, high = (sum(ends) / hundreds for ends in zip(*((p.low, p.high) for p in parts), strict=True))
    if not low <= work <= high:
        yield _warning(
            "work",
            f"the whole job: {work:.1f} PH per 100 ft²; for what is in its scope ("
            f"{', '.join(part.what for part in parts)}) crews usually take {low:.0f} to {high:.0f} (common "
            "practice). Look again before this is sent.",
        )


def _waste(share: float) -> Iterator[Problem]:
    if share and not WASTE_LOW <= share <= WASTE_HIGH:
        yield _warning(
            "board-waste",
            f"boards: {share * 100:.1f} % of cuts and culls, where {WASTE_LOW * 100:.0f} to "
            f"{WASTE_HIGH * 100:.0f} % are "
            "usual. An order at the optimum leaves nothing for colour and culls.",
        )


def _left_out(brief: Brief, efforts: tuple[Effort, ...]) -> Iterator[Problem]:
    codes = {effort.code for effort in efforts if effort.person_hours > 0}
    whole = sum(area.poured_m2 for area in brief.areas) >= brief.floor_m2() / 2
    if "pour" in codes and "edges" not in codes and whole:
        yield _warning(
            "no-borders",
            "fill without any border work: 0 m of border, where a screeded field leaves one along "
            "every wall it meets.",
        )
    if brief.tight() and "polish" not in codes:
        yield _warning(
            "no-polish",
            "no polish hours under a rule of 1/16 in, where 80 to 150 ft² a machine-hour are usual "
            "after a pour.",
        )
