"""Whether the slab is fit for every product of the job, and whether these go together.

Each limit is the product's own, kept as data in the catalogue. What was measured and breaks a limit either
blocks the quote, where another product must be chosen, or holds the work, where the slab can be brought to
it. What has a limit and was not measured holds the work until somebody has measured it.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations

from slab_core.errors import Problem, Severity
from slab_core.materials.hazards_model import Hazard
from slab_core.materials.slab_limits_model import SlabLimits
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.model import Hold, SlabState
from slab_core.units.conversions import fahrenheit

_ON_POUR, _ON_PRIME = ("prime", "pour"), ("prime",)
_ON_PATCH, _ON_GLUE = ("patch", "skim", "finish"), ("spread",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """A product that the job takes, and the work that puts it on the slab."""

    id: str
    name: str
    limits: SlabLimits
    hazards: tuple[Hazard, ...]
    before: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measure:
    """One thing to know of a slab: what it is called, how it is said, what breaks a limit and what then."""

    code: str
    field: str
    what: str
    unit: str
    by: str
    least: Callable[[SlabLimits], float | None]
    most: Callable[[SlabLimits], float | None]
    severity: Severity
    remedy: str
    said: Callable[[float], str] = lambda value: f"{value:g}"

    def limit(self, limits: SlabLimits) -> str:
        """The limit in words; empty where there is none."""
        least, most = self.least(limits), self.most(limits)
        if least is not None and most is not None:
            return f"{self.said(least)} to {self.said(most)}{self.unit}"
        if least is not None:
            return f"at least {self.said(least)}{self.unit}"
        return "" if most is None else f"at most {self.said(most)}{self.unit}"

    def broken(self, value: float, limits: SlabLimits) -> bool:
        least, most = self.least(limits), self.most(limits)
        return (least is not None and value < least) or (most is not None and value > most)


def _none(_: SlabLimits) -> None:
    return None


def _degrees(value: float) -> str:
    return f"{fahrenheit(value):.0f} °F ({value:.0f} °C)"


_MEASURES = (
    _Measure(
        code="slab-too-humid", field="humidity_percent", what="humidity in the slab", unit=" %",
        by="a test in the slab (ASTM F2170)", least=_none, most=lambda o: o.most_humidity_percent,
        severity="refusal", remedy="choose a product or a barrier that takes it, or let the slab dry",
    ),
    _Measure(
        code="slab-too-damp", field="vapour_lb", what="moisture that the slab gives off",
        unit=" lb from 1,000 ft² in 24 h", by="a test on the slab (ASTM F1869)", least=_none,
        most=lambda o: o.most_vapour_lb, severity="refusal",
        remedy="choose a product or a barrier that takes it, or let the slab dry",
    ),
    _Measure(
        code="slab-ph", field="ph", what="pH of the slab's surface", unit="", by="a test on the wetted slab",
        least=lambda o: o.least_ph, most=lambda o: o.most_ph, severity="finding",
        remedy="grind or rinse the surface and test it again",
    ),
    _Measure(
        code="slab-temperature", field="temperature_c", what="temperature of the slab", unit="",
        by="a thermometer on the slab", least=lambda o: o.least_temperature_c,
        most=lambda o: o.most_temperature_c, severity="finding", remedy="heat or cool the rooms and wait",
        said=_degrees,
    ),
    _Measure(
        code="slab-too-young", field="age_days", what="age of the slab", unit=" days",
        by="asking when it was poured", least=lambda o: o.least_age_days, most=_none, severity="finding",
        remedy="wait until it is that old",
    ),
    _Measure(
        code="slab-profile", field="profile", what="surface profile of the slab", unit=" (ICRI 310.2R)",
        by="comparing it with profile chips after grinding", least=lambda o: o.least_profile, most=_none,
        severity="finding", remedy="roughen the slab until it has it",
    ),
)  # fmt: skip


def slab_problems(brief: Brief) -> Iterator[Problem]:
    """What was measured and breaks a limit, residues that a product does not hold on, and products that do
    not go together."""
    state, products = brief.site.slab, used(brief)
    for one in products:
        yield from (_broken(measure, one, state) for measure in _MEASURES if _is_broken(measure, one, state))
        if state.residue in one.limits.not_on:
            yield Problem(
                code="residue-not-allowed",
                detail=f"the slab has {state.residue.replace('-', ' ')} left on it, on which {one.name} does "
                f"not hold ({one.limits.source}): have it removed or covered by a method that this product "
                "allows; old black adhesive may hold asbestos and is not ground, sanded or scraped untested",
                pointer="/site/slab/residue",
                severity="refusal",
            )
    for a, b in combinations(products, 2):
        for one, other in ((a, b), (b, a)):
            if other.id in one.limits.not_with:
                yield Problem(
                    code="products-apart",
                    detail=f"{one.name} must not touch {other.name} ({one.limits.source}): choose another "
                    "for one of the two",
                    pointer="/catalogue",
                    severity="refusal",
                )


def slab_holds(brief: Brief) -> Iterator[Hold]:
    """What somebody has to see to before the product goes on: broken limits that the slab can be brought to,
    and limits of what nobody measured."""
    state = brief.site.slab
    for one in used(brief):
        for measure in _MEASURES:
            rule = measure.limit(one.limits)
            if rule and (_is_broken(measure, one, state) or _value(measure, state) is None):
                yield Hold(
                    code=measure.code,
                    what=_to_do(measure, state),
                    who="crew lead",
                    before=one.before,
                    rule=f"{one.name}: {measure.what} {rule}",
                    source=one.limits.source,
                )


def used(brief: Brief) -> tuple[Used, ...]:
    """The products with limits and hazards of their own that the job really takes."""
    catalogue, areas = brief.catalogue, brief.areas
    poured, by_hand = any(area.pours for area in areas), any(area.patches for area in areas)
    taken = (
        (poured, catalogue.primer, _ON_PRIME), (poured, catalogue.compound, _ON_POUR),
        (by_hand, catalogue.patch, _ON_PATCH),
        (any(area.laid_m2 > 0 for area in areas), catalogue.adhesive, _ON_GLUE),
    )  # fmt: skip
    return tuple(
        Used(id=one.id, name=one.name, limits=one.limits, hazards=one.hazards, before=before)
        for there, one, before in taken
        if there
    )


def _value(measure: _Measure, state: SlabState) -> float | None:
    value = getattr(state, measure.field)
    return None if value is None else float(value)


def _is_broken(measure: _Measure, one: Used, state: SlabState) -> bool:
    value = _value(measure, state)
    return value is not None and measure.broken(value, one.limits)


def _broken(measure: _Measure, one: Used, state: SlabState) -> Problem:
    value = measure.said(_value(measure, state) or 0.0)
    hold = "" if measure.severity == "refusal" else "hold: "
    return Problem(
        code=measure.code,
        detail=f"{hold}the {measure.what} is {value}{measure.unit}, and {one.name} asks for "
        f"{measure.limit(one.limits)} ({one.limits.source}): {measure.remedy}",
        pointer=f"/site/slab/{measure.field}",
        severity=measure.severity,
    )


def _to_do(measure: _Measure, state: SlabState) -> str:
    if _value(measure, state) is None:
        return f"find out the {measure.what} by {measure.by}"
    return f"{measure.remedy}; then measure the {measure.what} again"
