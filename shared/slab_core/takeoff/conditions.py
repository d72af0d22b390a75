"""What must hold before the work may go on as it is counted: rulings that a person has to settle."""

from collections.abc import Iterator

from slab_core.errors import Problem
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.entries import m2
from slab_core.takeoff.model import Hold
from slab_core.takeoff.ruling import Ruling
from slab_core.takeoff.slab_rules import slab_rulings
from slab_core.takeoff.wood_conditions import wood_conditions
from slab_core.units.conversions import fahrenheit

_SLACK = 1e-6


def conditions(brief: Brief) -> tuple[Ruling, ...]:
    """On the slab, the site's climate, moisture, the boards and every product's own limits."""
    findings = (*_slab(brief), *_climate(brief))
    return (
        *(Ruling(problem=problem) for problem in findings),
        *_moisture(brief),
        *wood_conditions(brief),
        *slab_rulings(brief),
    )


def _slab(brief: Brief) -> Iterator[Problem]:
    """What the job asks for and the slab does not allow."""
    has = " and ".join(what.replace("-", " ") for what in brief.site.slab_has)
    if has and brief.scope.bond_grinding:
        yield Problem(
            code="bond-grinding-left-out",
            detail=f"the slab has {has}: grinding for bond is not counted; "
            "agree on another way to prepare it",
            pointer="/scope/bond_grinding",
        )
    kept_m2 = sum(area.kept_off()[0] for area in brief.areas)
    if not has and kept_m2 and brief.scope.bond_grinding:
        names = ", ".join(f"“{zone.id}” in {room}" for room, zone in brief.keep_outs())
        yield Problem(
            code="bond-grinding-left-out",
            detail=f"keep-out zones ({names}): {m2(kept_m2)} are not ground for bond; "
            "agree on another way to prepare them",
            pointer="/scope/bond_grinding",
        )
    if has and brief.scope.moisture_tests:
        yield Problem(
            code="moisture-tests-left-out",
            detail=f"the slab has {has}: in-slab moisture tests drill into it and are not counted; "
            "use a test on the surface, or a moisture-barrier adhesive",
            pointer="/scope/moisture_tests",
        )


def _climate(brief: Brief) -> Iterator[Problem]:
    """Whether the air is that in which the boards acclimate and live."""
    climate, limits = brief.climate, brief.covering.limits
    percent = climate.humidity * 100
    warm = limits.least_air_temperature_c, limits.most_air_temperature_c
    dry = limits.least_air_humidity_percent, limits.most_air_humidity_percent
    if not (_within(climate.temperature_c, warm) and _within(percent, dry)):
        yield Problem(
            code="climate-for-wood",
            detail=f"boards acclimate and are laid at {fahrenheit(climate.temperature_c):.0f} °F and "
            f"{percent:.0f} % RH; run the climate between {_range(warm)} and {dry[0]:g} to {dry[1]:g} % RH "
            f"first ({limits.air_source})",
            pointer="/climate",
            severity="warning",
        )


def _within(value: float, limits: tuple[float, float]) -> bool:
    return limits[0] - _SLACK <= value <= limits[1] + _SLACK


def _range(limits_c: tuple[float, float]) -> str:
    low, high = limits_c
    return f"{fahrenheit(low):.0f} and {fahrenheit(high):.0f} °F ({low:.0f} and {high:.0f} °C)"


def _moisture(brief: Brief) -> Iterator[Ruling]:
    tested = brief.scope.moisture_tests and not brief.no_grinding()
    if not tested and not brief.catalogue.adhesive.moisture_barrier:
        to_do = "test the slab, or choose a barrier adhesive"
        yield Ruling(
            problem=Problem(
                code="moisture-unknown",
                detail=f"hold: no moisture test is counted and the adhesive is no moisture barrier: {to_do}",
                pointer="/scope/moisture_tests",
            ),
            hold=Hold(
                code="moisture-unknown",
                what=to_do,
                who="office",
                before=("spread",),
                rule="boards are glued to a slab of known moisture, or with a moisture barrier",
                source="common practice, no single source",
            ),
        )
