"""Whether slab and air are fit for every product of the job, and whether these go together.

Each limit is the product's own, kept as data in the catalogue, with what a broken one does: block the
quote, where another product must be chosen, or hold the work, where the site can be brought to it. What has
a limit and was not measured holds the work until somebody has measured it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations

from slab_core.errors import Problem, Severity
from slab_core.materials.hazards_model import Hazard
from slab_core.materials.slab_limits_model import USUAL_POURING, Limit, Residue, SlabLimits
from slab_core.takeoff.brief import Brief
from slab_core.takeoff.measures import MEASURES, Measure
from slab_core.takeoff.model import Hold
from slab_core.takeoff.ruling import Ruling

_ON_POUR, _ON_PRIME = ("prime", "pour"), ("prime",)
_ON_PATCH, _ON_GLUE = ("patch", "skim", "finish"), ("spread",)
_WHO = "crew lead"


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """A product that the job takes, and the work that puts it on the slab. `limits` are its maker's, then
    those of common practice where the maker says nothing."""

    id: str
    name: str
    limits: tuple[SlabLimits, ...]
    hazards: tuple[Hazard, ...]
    before: tuple[str, ...]


def slab_rulings(brief: Brief) -> Iterator[Ruling]:
    """What was measured and breaks a limit, what has a limit and was not measured, residues that a product
    does not hold on, and products that do not go together."""
    products = used(brief)
    for one in products:
        for limits in one.limits:
            yield from (_measured(measure, one, limits, brief) for measure in _asked(limits, brief))
            yield from _residue(one, limits, brief.site.slab.residue)
    for one, other in permutations(products, 2):
        for limits in one.limits:
            if other.id in limits.not_with:
                yield _apart(one, other, limits)


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
        Used(id=one.id, name=one.name, limits=_limits(one.limits, before), hazards=one.hazards, before=before)
        for there, one, before in taken
        if there
    )


def _limits(own: SlabLimits, before: tuple[str, ...]) -> tuple[SlabLimits, ...]:
    silent = own.least_air_temperature_c is None and own.most_air_temperature_c is None
    return (own, USUAL_POURING) if silent and before in (_ON_POUR, _ON_PATCH) else (own,)


def _asked(limits: SlabLimits, brief: Brief) -> Iterator[Measure]:
    """The measures with a limit that is broken, or may be."""
    for measure in MEASURES:
        value = measure.value(brief)
        if measure.range(limits) and (value is None or measure.broken(value, limits)):
            yield measure


def _measured(measure: Measure, one: Used, limits: SlabLimits, brief: Brief) -> Ruling:
    value, asked = measure.value(brief), measure.range(limits)
    rule = f"{one.name}: {measure.what} {asked}"
    if value is None:
        to_do = f"find out the {measure.what} by {measure.by}"
        return Ruling(hold=_hold(measure.code, to_do, one.before, rule, limits))
    return _broken(
        code=measure.code,
        found=f"the {measure.what} is {measure.said(value)}{measure.unit}, and {one.name} asks for {asked}",
        remedy=measure.remedy,
        to_do=f"{measure.remedy}; then measure the {measure.what} again",
        pointer=measure.pointer,
        before=one.before,
        rule=rule,
        limits=limits,
        limit=measure.limit,
    )


def _residue(one: Used, limits: SlabLimits, residue: Residue | None) -> Iterator[Ruling]:
    """What is left on the slab and the product does not hold on; that nobody looked holds the work."""
    if residue is None and limits.not_on:
        names = " or ".join(each.replace("-", " ") for each in limits.not_on)
        to_do = "look what is left on the slab once the old floor is off and the slab is ground"
        yield Ruling(hold=_hold("residue-unknown", to_do, one.before, f"{one.name}: not on {names}", limits))
    elif residue in limits.not_on:
        yield _on_residue(one, limits, residue.replace("-", " "))


def _on_residue(one: Used, limits: SlabLimits, residue: str) -> Ruling:
    remedy = (
        "have it removed or covered by a method that this product allows; old black adhesive may hold "
        "asbestos and is not ground, sanded or scraped untested"
    )
    return _broken(
        code="residue-not-allowed",
        found=f"the slab has {residue} left on it, on which {one.name} does not hold",
        remedy=remedy,
        to_do=f"{residue} on the slab: {remedy}",
        pointer="/site/slab/residue",
        before=one.before,
        rule=f"{one.name}: not on {residue}",
        limits=limits,
        limit="residue",
    )


def _apart(one: Used, other: Used, limits: SlabLimits) -> Ruling:
    return _broken(
        code="products-apart",
        found=f"{one.name} must not touch {other.name}",
        remedy="choose another for one of the two",
        to_do="choose another for one of the two, or put between them what the maker allows",
        pointer="/catalogue",
        before=(*one.before, *(code for code in other.before if code not in one.before)),
        rule=f"{one.name}: not against {other.name}",
        limits=limits,
        limit="contact",
    )


def _broken(
    *,
    code: str,
    found: str,
    remedy: str,
    to_do: str,
    pointer: str,
    before: tuple[str, ...],
    rule: str,
    limits: SlabLimits,
    limit: Limit,
) -> Ruling:
    severity: Severity = "refusal" if limit in limits.blocks else "finding"
    hold = "" if severity == "refusal" else "hold: "
    detail = f"{hold}{found} ({limits.source}): {remedy}"
    return Ruling(
        problem=Problem(code=code, detail=detail, pointer=pointer, severity=severity),
        hold=_hold(code, to_do, before, rule, limits),
    )


def _hold(code: str, to_do: str, before: tuple[str, ...], rule: str, limits: SlabLimits) -> Hold:
    return Hold(code=code, what=to_do, who=_WHO, before=before, rule=rule, source=limits.source)
