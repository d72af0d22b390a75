"""What the measured moisture of boards asks for: a hold until they fit the air, and what comes after."""

from collections.abc import Iterator

from slab_core.errors import Problem
from slab_core.materials.wood import equilibrium_percent, free_movement_m
from slab_core.materials.wood_species import BY_NAME
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.model import Hold, WoodMoisture
from slab_core.takeoff.ruling import Ruling
from slab_core.units.conversions import fahrenheit
from slab_core.units.display import inches, millimetres
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

SEEN_GAP_M = INCH_M / 32
"""A gap between boards, or a cup, that people see (from memory)."""

_SLACK = 1e-6


def wood_conditions(brief: Brief) -> Iterator[Ruling]:
    """Nothing where no moisture of boards is given."""
    wood = brief.site.wood
    if wood is not None:
        yield from _acclimated(brief, wood)
        yield from _near_subfloor(brief, wood)
        yield from _movement(brief, wood)


def _acclimated(brief: Brief, wood: WoodMoisture) -> Iterator[Ruling]:
    climate, limits = brief.climate, brief.covering.limits
    comes_to = equilibrium_percent(temperature_c=climate.temperature_c, humidity=climate.humidity)
    if abs(wood.board_percent - comes_to) > limits.acclimated_points + _SLACK:
        verb = "dry" if wood.board_percent > comes_to else "take up moisture"
        within = f"within {limits.acclimated_points:g} points of"
        yield _ruling(
            code="boards-not-acclimated",
            found=f"the boards have {wood.board_percent:.1f} % moisture, and air of "
            f"{fahrenheit(climate.temperature_c):.0f} °F ({climate.temperature_c:.0f} °C) and "
            f"{climate.humidity * 100:.0f} % RH brings wood to {comes_to:.1f} % (USDA Wood Handbook, "
            "equation 4-5)",
            to_do=f"let the boards {verb} in that climate until they are {within} it "
            f"({limits.acclimated_source}), and measure again before they are glued",
            pointer="/site/wood/board_percent",
            rule=f"boards are {within} the {comes_to:.1f} % that the air brings wood to",
            source=f"USDA Wood Handbook, equation 4-5; how near: {limits.acclimated_source}",
        )


def _near_subfloor(brief: Brief, wood: WoodMoisture) -> Iterator[Ruling]:
    if wood.subfloor_percent is None:
        return
    width_m, limits = brief.covering.width_m, brief.covering.limits
    most = limits.most_points_apart(width_m=width_m)
    apart = abs(wood.board_percent - wood.subfloor_percent)
    if apart > most + _SLACK:
        yield _ruling(
            code="boards-and-subfloor-apart",
            found=f"the boards have {wood.board_percent:.1f} % and the wood subfloor "
            f"{wood.subfloor_percent:.1f} %, {apart:.1f} points apart; boards {inches(width_m)} wide may be "
            f"{most:g} from it ({limits.subfloor_source})",
            to_do="let boards and subfloor come nearer to each other in the climate that the rooms will "
            "have, and measure both again",
            pointer="/site/wood/subfloor_percent",
            rule=f"boards {inches(width_m)} wide are within {most:g} points of a wood subfloor",
            source=limits.subfloor_source,
        )


def _ruling(*, code: str, found: str, to_do: str, pointer: str, rule: str, source: str) -> Ruling:
    return Ruling(
        problem=Problem(code=code, detail=f"hold: {found}: {to_do}", pointer=pointer),
        hold=Hold(code=code, what=to_do, who="crew lead", before=("spread",), rule=rule, source=source),
    )


def _movement(brief: Brief, wood: WoodMoisture) -> Iterator[Ruling]:
    """The widest swing from the moisture the boards are laid with. No gap follows from it: see the text."""
    species = BY_NAME[wood.species]
    coefficient = species.radial if wood.quartersawn and species.radial is not None else species.tangential
    width_m, temperature_c = brief.covering.width_m, brief.climate.temperature_c
    driest, dampest = (
        equilibrium_percent(temperature_c=temperature_c, humidity=humidity)
        for humidity in wood.lived_humidity
    )
    moved = {
        share: free_movement_m(
            width_m=width_m, coefficient=coefficient, from_percent=wood.board_percent, to_percent=share
        )
        for share in (driest, dampest)
    }
    to_percent = max(moved, key=lambda share: abs(moved[share]))
    if abs(moved[to_percent]) < SEEN_GAP_M:
        return
    sign = "wider" if moved[to_percent] > 0 else "narrower"
    size = abs(moved[to_percent])
    low, high = (humidity * 100 for humidity in wood.lived_humidity)
    problem = Problem(
        code="boards-will-move",
        detail=f"a free board of solid {wood.species}, {inches(width_m)} wide, goes from "
        f"{wood.board_percent:.1f} % to {to_percent:.1f} % moisture in the humidity it will live in "
        f"({low:.0f} to {high:.0f} % RH) and would be {inches(size, denominator=64)} ({millimetres(size)}) "
        f"{sign} ({species.source}; for 6 to 14 % moisture). Glued boards are held and engineered ones move "
        "less, so this is an upper bound and is not to be added up to a gap at the walls: keep the gap that "
        "the boards' maker states, and hold the climate steady",
        pointer="/site/wood",
        severity="warning",
    )
    yield Ruling(problem=problem)
