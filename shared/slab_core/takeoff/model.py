"""Everything to buy and do, each line with where its number comes from."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from slab_core.errors import Problem
from slab_core.materials.slab_limits_model import Residue
from slab_core.numerics.grid import Ints
from slab_core.stages import PLANE

LineKind = Literal["material", "labour", "equipment", "disposal"]
Removal = Literal["none", "floating", "carpet", "glued-wood", "tile"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """What an earlier job left of a product: unopened packages, and what opened ones still hold, as a share
    of one. After `use_by` none of it is used. `of_firm` is what the firm's store had when the job was
    posted; it was not named by the client, and what stands on site already is used before it."""

    product: str
    packages: int
    opened: float = 0.0
    use_by: date | None = None
    of_firm: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """Work around the slab that the rooms and readings do not tell."""

    removal: Removal = "floating"
    furniture_rooms: int = 0
    base_off: bool = True
    base_new: bool = False
    quarter_round: bool = False
    carpet_edge_m: float = 0.0
    bond_grinding: bool = True
    moisture_tests: bool = True
    stock: tuple[Stock, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WoodMoisture:
    """What was measured on the boards, in percent of dry mass, and the humidity (0..1) they will live in.

    `species` is one of materials/wood_species.py; `subfloor_percent` is of a wood subfloor that the boards
    run on to.
    """

    species: str
    board_percent: float
    quartersawn: bool = False
    subfloor_percent: float | None = None
    lived_humidity: tuple[float, float] = (0.30, 0.50)


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabState:
    """What was measured on the slab or is known of it, None where nobody did: the highest humidity of all
    tests in it, the most moisture it gives off (pounds from 1,000 ft² in 24 h), pH, its own temperature, age,
    its surface profile of ICRI 310.2R (1-10) when products go on, and what is left on it; how thick it is,
    whether it dries to both sides, and how many exterior walls on or below grade it has."""

    humidity_percent: float | None = None
    vapour_lb: float | None = None
    ph: float | None = None
    temperature_c: float | None = None
    age_days: int | None = None
    profile: int | None = None
    residue: Residue | None = None
    thickness_m: float | None = None
    dries_both_ways: bool = False
    exterior_walls: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """Something that has to be settled before work of the codes `before` begins: what is to be done, by whom,
    and the rule with its source that asks for it."""

    code: str
    what: str
    who: str
    before: tuple[str, ...]
    rule: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What is known of the building. `built_year` decides the caution on asbestos."""

    time_zone: str = "UTC"
    built_year: int | None = None
    porosity: Literal["porous", "dense"] = "porous"
    hardness: Literal["soft", "ordinary", "hard"] = "ordinary"
    lived_in: bool = True
    slab_has: tuple[Literal["tendons", "heating-pipes", "membrane"], ...] = ()
    wood: WoodMoisture | None = None
    slab: SlabState = SlabState()


@dataclass(frozen=True, slots=True, kw_only=True)
class LineKey:
    """Stable key of a line from takeoff to closeout: what is done, where, when, with what."""

    code: str
    floor: str = ""
    phase: int = 0
    product: str = ""

    def text(self) -> str:
        """The key as one string, for documents and look-ups."""
        return f"{self.code}/{self.floor or '-'}/{self.phase}/{self.product or '-'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """Where a number comes from: the stage, the formula in words, and its inputs by name."""

    stage: str
    formula: str
    inputs: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeoffLine:
    """One thing to buy or do. `order` is in whole packages for material and equals net x (1 + waste) for
    the rest. `price_code` is what the price book is asked for. `from_stock` are packages on top of the order
    that an earlier job left; `left_over` is about what the next job can use of them all when this one is done
    as planned, in `unit`: nothing of pours, whose bags are mixed whole, of sticks what is long enough for a
    piece, of spares all, also the carton of boards that many firms leave with the customer (common practice,
    no single source). `package_size` is what one package holds, in `unit`; earlier results lack it."""

    key: LineKey
    kind: LineKind
    what: str
    net: float
    waste_share: float
    order: float
    unit: str
    price_code: str
    trace: Trace
    package: str = ""
    package_size: float = 0.0
    weight_kg: float = 0.0
    from_stock: float = 0.0
    left_over: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Work for the schedule: person-hours and machine-hours of one code on one floor and phase, or one
    pour or one spread, named by `part`. `machine` names what is occupied while it runs. `depth_m` (the
    greatest of a pour) and `lift` (1 is the lowest) decide drying; what waits for what is the
    schedule's. `bags` are those of a pour: only so many are poured in a day, and of a `free` one more."""

    code: str
    what: str
    floor: str
    phase: int
    person_hours: float
    machine_hours: float = 0.0
    machine: str = ""
    least_people: int = 1
    most_people: int = 3
    part: str = ""
    depth_m: float = 0.0
    lift: int = 0
    bags: int = 0
    free: bool = False


def lift_part(lift: int) -> str:
    """The part of a priming that is for one of several lifts."""
    return f"lift{lift}"


TrimEnd = Literal["square", "inside", "outside", "joint"]
"""How an end of trim is cut: straight, for a corner of the room or for one that stands out into it, or to
join the next piece of the run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimPiece:
    """One piece of trim: the opening or the stretch of wall it is for ("kitchen 2-3", between the vertices
    of the room's outline; "2 of 3" where it is joined to others), and its length as it is cut. `left` and
    `right` are its ends as one faces the wall; earlier results lack them."""

    where: str
    length_m: float
    left: TrimEnd = "square"
    right: TrimEnd = "square"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimStick:
    """One stick of a product: its pieces in cutting order and what is left of it."""

    product: str
    pieces: tuple[TrimPiece, ...]
    left_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CutList:
    """Sticks for all trim of one kind. `bought_m` is the length of all sticks, spares apart; no cutting of
    these pieces takes less than `bound_m`, and `proven` says that this one takes no more. `waste_share` is
    the share of the sticks that is in no piece."""

    item: str
    sticks: tuple[TrimStick, ...]
    bought_m: float
    bound_m: float
    proven: bool
    waste_share: float
    spare_sticks: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantiles:
    """What is kept to with a chance of 50, 80 and 95 %."""

    p50: float
    p80: float
    p95: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class QuantityDraws:
    """Order quantities that may come true, drawn together: what varies is named by `line`, places in the
    takeoff's lines, shape (m,); `quantity` has the shape (m, n), n draws. The plan is held fixed while the
    slab, yields and rates vary."""

    seed: int
    line: Ints
    quantity: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitPart:
    """So much of what has a price goes with one more unit."""

    price_code: str
    quantity: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AllowedQuantity:
    """What only the slab will tell: bags of compound, or hours of the large grinder for height.

    `planned` is what the lines count, `by_chance` what the slab may take. `log_sd` is the standard deviation
    of the logarithm of that. `parts` are everything that goes with one unit more or less.
    """

    code: Literal["bags", "grinding"]
    what: str
    unit: str
    planned: float
    by_chance: Quantiles
    log_sd: float
    parts: tuple[UnitPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickSurvey:
    """So many heights taken before the floor is torn out, what that takes, and how surely they then tell the
    quantities: standard deviations of the logarithm."""

    readings: int
    bags_log_sd: float
    grinding_log_sd: float
    parts: tuple[UnitPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """What stands in for a slab that nobody has seen: the kind of slab, its area, and what it may take.

    `jobs` of the firm's own, by which the bags were learned, beside a prior worth `prior_slabs`. The floor is
    to be `corrected_as` the alternate of that name, which takes `bags_share` of one plane's bags; earlier
    results reckon with one plane.
    """

    removal: Removal
    age: str
    area_m2: float
    jobs: int
    prior_slabs: float
    quantities: tuple[AllowedQuantity, ...]
    surveys: tuple[QuickSurvey, ...]
    corrected_as: str = PLANE
    bags_share: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectionOrder:
    """Cartons of boards to order for the whole job with one floor laid in a direction, and those `from_stock`
    on top of them. `more_ph` are person-hours of pre-cutting that its cuts and rips take more than those of
    the direction that was taken, or less; earlier results lack them."""

    direction_deg: float
    order: float
    from_stock: float
    more_ph: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DirectionOrders:
    """Every direction in which the layout tried a floor, its own first, and why it took that one."""

    floor: str
    chosen_by: Literal["", "given", "narrow-rips", "waste", "equal"]
    choices: tuple[DirectionOrder, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneLine:
    """The share of a line of an earlier estimate, from above 0 to 1, that is done by now."""

    key: LineKey
    kind: LineKind
    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Takeoff:
    """Result of the takeoff stage for the whole job and one alternate. `bags_needed` are bags of compound,
    spare apart, by chance; None where nothing is poured. `allowance` is None where the slab was surveyed.
    `holds` are what somebody has to settle before work goes on, `directions` what boards are ordered for each
    direction in which a floor was tried; earlier results lack them."""

    alternate: str
    lines: tuple[TakeoffLine, ...]
    tasks: tuple[Task, ...]
    floor_m2: float
    order_weight_kg: float
    problems: tuple[Problem, ...] = ()
    cut_lists: tuple[CutList, ...] = ()
    bags_needed: Quantiles | None = None
    draws: QuantityDraws | None = None
    done: tuple[DoneLine, ...] = ()
    allowance: Allowance | None = None
    holds: tuple[Hold, ...] = ()
    directions: tuple[DirectionOrders, ...] = ()
