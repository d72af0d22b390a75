"""Products and climate: what a plan may assume about materials.

Lengths in metres, areas in m², volumes in m³, masses in kg, temperatures in °C. `lead_days` are calendar
days from the order until a product is on site; `hazards` are those of its safety data sheet. Values of a
catalogue are the firm's own; the starter values are common practice with no single source.
"""

from dataclasses import dataclass
from typing import Literal

from slab_core.materials.hazards_model import Hazard
from slab_core.materials.slab_limits_model import NO_LIMITS, SlabLimits
from slab_core.materials.wood_limits_model import USUAL_WOOD, WoodLimits
from slab_core.units.conversions import CUBIC_METRES_PER_CUBIC_FOOT as FOOT3_M3
from slab_core.units.conversions import KILOGRAMS_PER_POUND as POUND_KG
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

ProductKind = Literal[
    "compound",
    "primer",
    "patch",
    "adhesive",
    "board",
    "transition",
    "base",
    "trim-adhesive",
    "sealant",
    "consumable",
]
Porosity = Literal["porous", "dense"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """What is sold: one `unit` (bag, pail, carton, stick, roll, each) holding `size` of `size_unit`."""

    unit: str
    size: float
    size_unit: Literal["m3", "m2", "m", "L", "each"]
    weight_kg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Compound:
    """A pourable levelling compound. `package.size` is the yield of one bag in m³; a batch is poured within
    `pot_life_minutes` of being mixed, if the maker says. It heals for `heals_minutes`, no farther than
    `heals_radius_m` around the bucket: a free pour so thin that a bag would have to run farther is not made.
    """

    id: str
    name: str
    package: Package
    yield_low_m3: float
    yield_high_m3: float
    least_lift_m: float
    greatest_lift_m: float
    featheredge: bool
    waste_share: float
    texture_m: float
    heals_minutes: float
    heals_radius_m: float
    walk_hours: float
    next_pour_hours: float
    cover_hours: float
    cover_hours_per_further_quarter_inch: float
    spare_share: float = 0.05
    pot_life_minutes: float | None = None
    lead_days: int = 0
    limits: SlabLimits = NO_LIMITS
    hazards: tuple[Hazard, ...] = ("wet-cement",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A compound trowelled to a feather that dries in hours; thinned as a skim over wide, shallow places.

    `package.size` is the yield of one bag in m³; no patch is thicker than `greatest_depth_m` or wider than
    `greatest_patch_m2`, no skim thicker than `greatest_skim_m`. What is mixed is placed within
    `pot_life_minutes` (10-20, common practice, no single source).
    """

    id: str = "patch"
    name: str = "Trowelled patch and skim, 50 lb"
    package: Package = Package(unit="bag", size=0.45 * FOOT3_M3, size_unit="m3", weight_kg=50 * POUND_KG)
    waste_share: float = 0.10
    texture_m: float = INCH_M / 64
    greatest_depth_m: float = INCH_M / 2
    greatest_patch_m2: float = 40 * FOOT2_M2
    greatest_skim_m: float = INCH_M / 8
    dry_hours: float = 2.0
    pot_life_minutes: float | None = 15.0
    lead_days: int = 0
    limits: SlabLimits = NO_LIMITS
    hazards: tuple[Hazard, ...] = ("wet-cement",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Primer:
    """A primer for compound. Coverage is per coat; it may be poured on between the two hours."""

    id: str
    name: str
    package: Package
    coverage_porous_m2_per_l: float
    coverage_dense_m2_per_l: float
    coats_porous: int
    coats_dense: int
    dry_hours: float
    pour_within_hours: float
    lead_days: int = 0
    limits: SlabLimits = NO_LIMITS
    hazards: tuple[Hazard, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trowel:
    """A notch, as the maker of an adhesive names it: how far a litre goes with it, and the film it leaves."""

    notch: str
    coverage_m2_per_l: float
    film_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Adhesive:
    """A wood floor adhesive. `film_m` is what it adds to the height of the floor. Coverage and film are those
    of the trowel that is meant where a job names none of the `trowels`."""

    id: str
    name: str
    package: Package
    coverage_m2_per_l: float
    loss_share: float
    film_m: float
    working_minutes: float
    moisture_barrier: bool
    cure_hours: float
    trowels: tuple[Trowel, ...] = ()
    lead_days: int = 0
    limits: SlabLimits = NO_LIMITS
    hazards: tuple[Hazard, ...] = ("isocyanates",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covering:
    """The boards that follow and how they are laid. Board faces measured.

    With `lengths_m` of one value the boards are of fixed length, with more of them random lengths
    from a bundle that holds each length equally often. `direction_deg` is the run of the boards,
    counter-clockwise from x; None lets the layout choose. `rows_start` says where rows lie across it:
    balanced between its first and last wall, or centred. `line_through` is a point of the plan, in metres,
    that a line between two rows goes through, such as the end of a row already laid in the next room; it
    goes before `rows_start`. `beyond_plan_share` is what a crew takes more than the best plan: miscuts,
    colour, boards that come otherwise (common practice, no single source). `undercut_m` is how far boards
    reach under the edge of a hearth; 0 lets them end the expansion gap in front of it.
    """

    product: str
    name: str
    width_m: float
    thickness_m: float
    lengths_m: tuple[float, ...]
    carton_m2: float
    carton_kg: float
    expansion_gap_m: float
    stagger_m: float
    least_piece_m: float
    least_rip_m: float
    kerf_m: float = 0.003
    direction_deg: float | None = None
    cull_share: float = 0.03
    beyond_plan_share: float = 0.02
    spare_cartons: int = 1
    rows_start: Literal["balanced", "centred"] = "balanced"
    line_through: tuple[float, float] | None = None
    lead_days: int = 0
    undercut_m: float = 0.0
    limits: WoodLimits = USUAL_WOOD


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Any other product: its package and how much of the measure one package serves.

    `other_length_of` names the item of which this is another stock length (base in sticks of 8 ft beside
    16 ft): trim is then cut from whichever lengths take the least.
    """

    id: str
    name: str
    kind: ProductKind
    package: Package
    other_length_of: str = ""
    lead_days: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """The firm's products, as one immutable version. Jobs take its compound, primer, patch and adhesive
    unless they name one of the further `compounds`, `primers`, `patches` or `adhesives` (choice.py).
    `wood_limits` are those of the boards it lays, which a job's covering may state otherwise.
    """

    version: str
    compound: Compound
    primer: Primer
    adhesive: Adhesive
    items: tuple[Item, ...]
    source: str = "common practice, no single source"
    patch: Patch = Patch()
    wood_limits: WoodLimits = USUAL_WOOD
    compounds: tuple[Compound, ...] = ()
    primers: tuple[Primer, ...] = ()
    patches: tuple[Patch, ...] = ()
    adhesives: tuple[Adhesive, ...] = ()

    def product_ids(self) -> tuple[str, ...]:
        """Of everything in it."""
        own = (self.compound.id, self.patch.id, self.primer.id, self.adhesive.id)
        further = (
            *(product.id for product in self.compounds),
            *(product.id for product in self.patches),
            *(product.id for product in self.primers),
            *(product.id for product in self.adhesives),
        )
        return (*own, *further, *(item.id for item in self.items))

    def lead_days(self, covering: Covering) -> dict[str, int]:
        """By product id, of everything that a job with this covering may buy."""
        return {
            self.compound.id: self.compound.lead_days,
            self.patch.id: self.patch.lead_days,
            self.primer.id: self.primer.lead_days,
            self.adhesive.id: self.adhesive.lead_days,
            **{item.id: item.lead_days for item in self.items},
            covering.product: covering.lead_days,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """Temperature and relative humidity (0..1) at the site while work runs."""

    temperature_c: float = 21.1
    humidity: float = 0.5
