"""What must hold before the work may go on as it is counted: findings that a person has to settle."""

from collections.abc import Iterator

from slab_core.errors import Problem
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.wood_conditions import wood_conditions
from slab_core.units.conversions import celsius, fahrenheit

POUR_BETWEEN_F = (50.0, 85.0)
"""Slab temperature for compound (common practice, no single source)."""

LIVE_BETWEEN_F = (60.0, 80.0)
LIVE_BETWEEN_RH = (0.30, 0.50)
"""Climate in which wood is acclimated, laid and lived with: the wood flooring trade's guideline, as quoted
in its journal of June 2017 (read second-hand)."""

_SLACK = 1e-6


def conditions(*, brief: Brief) -> tuple[Problem, ...]:
    """Findings on the slab, the site's climate, moisture and the boards."""
    return (*_slab(brief), *_climate(brief), *_moisture(brief), *wood_conditions(brief))


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
    if has and brief.scope.moisture_tests:
        yield Problem(
            code="moisture-tests-left-out",
            detail=f"the slab has {has}: in-slab moisture tests drill into it and are not counted; "
            "use a test on the surface, or a moisture-barrier adhesive",
            pointer="/scope/moisture_tests",
        )


def _climate(brief: Brief) -> Iterator[Problem]:
    temperature_f = fahrenheit(brief.climate.temperature_c)
    if any(area.pours or area.patches for area in brief.areas) and not _within(temperature_f, POUR_BETWEEN_F):
        yield Problem(
            code="temperature-for-pouring",
            detail=f"compound is poured at {temperature_f:.0f} °F ({brief.climate.temperature_c:.0f} "
            "°C); the slab "
            f"has to be between {_range_f(POUR_BETWEEN_F)}: heat, cool or wait",
            pointer="/climate/temperature_c",
        )
    fits = _within(temperature_f, LIVE_BETWEEN_F) and _within(brief.climate.humidity, LIVE_BETWEEN_RH)
    if not fits:
        yield Problem(
            code="climate-for-wood",
            detail=f"boards acclimate and are laid at {temperature_f:.0f} °F and "
            f"{brief.climate.humidity * 100:.0f} % RH; "
            f"run the climate between {_range_f(LIVE_BETWEEN_F)} and 30 to 50 % RH first",
            pointer="/climate",
            severity="warning",
        )


def _within(value: float, limits: tuple[float, float]) -> bool:
    return limits[0] - _SLACK <= value <= limits[1] + _SLACK


def _range_f(limits: tuple[float, float]) -> str:
    low, high = limits
    return f"{low:.0f} and {high:.0f} °F ({celsius(low):.0f} and {celsius(high):.0f} °C)"


def _moisture(brief: Brief) -> Iterator[Problem]:
    tested = brief.scope.moisture_tests and not brief.no_grinding()
    if not tested and not brief.catalogue.adhesive.moisture_barrier:
        yield Problem(
            code="moisture-unknown",
            detail="no moisture test is counted and the adhesive is no moisture barrier: test the slab, or "
            "choose a barrier adhesive",
            pointer="/scope/moisture_tests",
        )
