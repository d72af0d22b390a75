"""What is wanted and what is allowed, as the core's models: covering, scope, limits, site."""

from dataclasses import fields, replace
from zoneinfo import ZoneInfo

from slab_api.intake.reader import Reader
from slab_api.intake.wood_limits import read_wood_limits
from slab_api.schemas.job import JobParts
from slab_api.schemas.site import SiteDocument, SlabDocument, WoodDocument
from slab_api.schemas.wanted import (
    CoveringDocument,
    LimitsDocument,
    PlanningDocument,
    ProductsDocument,
    StockDocument,
)
from slab_core.correction.model import Limits
from slab_core.materials import starter
from slab_core.materials.choice import Wanted, with_wanted
from slab_core.materials.model import Catalogue, Climate, Covering
from slab_core.materials.rates_model import PlanningCosts
from slab_core.materials.wood_limits_model import USUAL_WOOD, WoodLimits
from slab_core.materials.wood_species import BY_NAME as SPECIES
from slab_core.takeoff.model import Scope, Site, SlabState, Stock, WoodMoisture

_COVERING_LENGTHS = (
    "width",
    "thickness",
    "expansion_gap",
    "stagger",
    "least_piece",
    "least_rip",
    "kerf",
    "undercut",
)
_COVERING_PLAIN = (
    "product",
    "name",
    "carton_m2",
    "carton_kg",
    "direction_deg",
    "cull_share",
    "beyond_plan_share",
    "rows_start",
    "lead_days",
)


def read_covering(
    covering: CoveringDocument, *, reader: Reader, usual_limits: WoodLimits = USUAL_WOOD
) -> Covering:
    """The starter covering, with the firm's usual limits of boards, and what the document says otherwise."""
    changes: dict[str, object] = {}
    for name in _COVERING_LENGTHS:
        value = getattr(covering, name)
        if value is not None:
            vertical = name == "thickness"
            read = reader.not_negative if name in ("kerf", "undercut") else reader.positive
            changes[f"{name}_m"] = read(value, ("covering", name), vertical=vertical)
    if covering.lengths is not None:
        changes["lengths_m"] = tuple(
            reader.positive(value, ("covering", "lengths", i)) for i, value in enumerate(covering.lengths)
        )
    if covering.line_through is not None:
        changes["line_through"] = reader.point(covering.line_through, ("covering", "line_through"))
    changes["limits"] = read_wood_limits(covering.limits, usual=usual_limits, reader=reader)
    plain = {name: getattr(covering, name) for name in _COVERING_PLAIN}
    changes |= {name: value for name, value in plain.items() if value is not None}
    return replace(starter.covering(), **changes)  # type: ignore[arg-type]  # each field was read as its kind


def read_products(products: ProductsDocument, *, catalogue: Catalogue, reader: Reader) -> Catalogue:
    """The catalogue with the products that the job takes, and no others of their kinds."""
    wanted = Wanted(**{field.name: getattr(products, field.name) or "" for field in fields(Wanted)})
    chosen, slips = with_wanted(catalogue=catalogue, wanted=wanted)
    for field, detail in slips:
        reader.fault(detail, ("products", field))
    return chosen


def read_scope(job: JobParts, *, reader: Reader) -> Scope:
    """Work around the slab."""
    scope = job.scope
    return Scope(
        removal=scope.removal,
        furniture_rooms=scope.furniture_rooms,
        base_off=scope.base_off,
        base_new=scope.base_new,
        quarter_round=scope.quarter_round,
        carpet_edge_m=reader.not_negative(scope.carpet_edge, ("scope", "carpet_edge")),
        bond_grinding=scope.bond_grinding,
        moisture_tests=scope.moisture_tests,
        stock=_stock(scope.stock, reader=reader),
    )


def _stock(posted: tuple[StockDocument, ...], *, reader: Reader) -> tuple[Stock, ...]:
    for i, one in enumerate(posted):
        if not one.packages and not one.opened:
            reader.fault("stock is at least one package or a share of an opened one", ("scope", "stock", i))
    return tuple(
        Stock(product=one.product, packages=one.packages, opened=one.opened, use_by=one.use_by)
        for one in posted
    )


def read_limits(limits: LimitsDocument, *, site: SiteDocument, reader: Reader) -> Limits:
    """What the crew must not cross. A slab with something in it is not ground, whatever is asked for."""
    usual = Limits()
    if site.slab_has and limits.no_grinding is False:
        reader.fault(
            f"a slab with {', '.join(site.slab_has)} is not ground; leave no_grinding out or set it to true",
            ("limits", "no_grinding"),
        )
    grind, fill = limits.greatest_grind, limits.greatest_fill
    return Limits(
        greatest_grind_m=usual.greatest_grind_m
        if grind is None
        else reader.not_negative(grind, ("limits", "greatest_grind"), vertical=True),
        greatest_fill_m=usual.greatest_fill_m
        if fill is None
        else reader.not_negative(fill, ("limits", "greatest_fill"), vertical=True),
        no_grinding=bool(site.slab_has) or bool(limits.no_grinding),
    )


def read_site(site: SiteDocument, *, reader: Reader) -> Site:
    """What is known of the building."""
    zone_of(site.time_zone, reader=reader)
    return Site(
        time_zone=site.time_zone,
        built_year=site.built_year,
        porosity=site.porosity,
        hardness=site.hardness,
        lived_in=site.lived_in,
        slab_has=tuple(site.slab_has),
        wood=None if site.wood is None else _wood(site.wood, reader=reader),
        slab=_slab(site.slab, reader=reader),
    )


def _slab(slab: SlabDocument, *, reader: Reader) -> SlabState:
    thick = slab.thickness
    thickness_m = (
        None if thick is None else reader.positive(thick, ("site", "slab", "thickness"), vertical=True)
    )
    return SlabState(**slab.model_dump(exclude={"thickness"}), thickness_m=thickness_m)


def _wood(wood: WoodDocument, *, reader: Reader) -> WoodMoisture:
    if wood.species not in SPECIES:
        reader.fault(
            f"{wood.species!r} is no species of this service; there are {', '.join(SPECIES)}",
            ("site", "wood", "species"),
        )
    elif wood.quartersawn and SPECIES[wood.species].radial is None:
        reader.fault(
            f"how far quartersawn {wood.species} moves is not known here; leave quartersawn out: then it "
            "counts as plainsawn, which moves more",
            ("site", "wood", "quartersawn"),
        )
    low, high = wood.lived_humidity
    if low > high:
        reader.fault("the least humidity comes first", ("site", "wood", "lived_humidity"))
    return WoodMoisture(
        species=wood.species,
        board_percent=wood.board_percent,
        quartersawn=wood.quartersawn,
        subfloor_percent=wood.subfloor_percent,
        lived_humidity=(low, high),
    )


def zone_of(name: str, *, reader: Reader) -> ZoneInfo:
    """The time zone of a site; UTC, with a fault, for a name that there is not."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        reader.fault(f"{name!r} is not an IANA time zone such as America/Denver", ("site", "time_zone"))
        return ZoneInfo("UTC")


def read_climate(job: JobParts) -> Climate:
    """Temperature and humidity while work runs."""
    return Climate(temperature_c=job.climate.temperature_c, humidity=job.climate.humidity)


def read_planning(planning: PlanningDocument) -> PlanningCosts:
    """The starter planning costs with what the document says otherwise."""
    usual = starter.planning_costs()
    given = {field.name: getattr(planning, field.name) for field in fields(usual) if field.name != "version"}
    changes = {name: value for name, value in given.items() if value is not None}
    return replace(usual, version="posted", **changes) if changes else usual
