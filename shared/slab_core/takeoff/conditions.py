"""What must hold before the work may go on as it is counted: rulings that a person has to settle."""

from collections.abc import Iterator

from slab_core.errors import Problem
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.model import Hold
from slab_core.takeoff.ruling import Ruling
from slab_core.takeoff.slab_rules import slab_rulings
from slab_core.takeoff.wood_conditions import wood_conditions
from slab_core.units.conversions import celsius, fahrenheit

LIVE_BETWEEN_F = (60.0, 80.0)
LIVE_BETWEEN_RH = (0.30, 0.50)
"""Climate in which wood is acclimated, laid and lived with: the wood flooring trade's guideline, as quoted
in its journal of June 2017 (read second-hand)."""

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
    if has and brief.scope.moisture_tests:
        yield Problem(
            code="moisture-tests-left-out",
            detail=f"the slab has {has}: in-slab moisture tests drill into it and are not counted; "
            "use a test on the surface, or a moisture-barrier adhesive",
            pointer="/scope/moisture_tests",
        )


def _climate(brief: Brief) -> Iterator[Problem]:
    temperature_f = fahrenheit(brief.climate.temperature_c)
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
