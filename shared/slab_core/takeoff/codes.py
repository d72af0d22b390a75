"""Codes that later stages rely on: kinds of work in their usual order, and what a price book must price."""

from typing import NamedTuple

from slab_core.materials.model import Catalogue, Covering
from slab_core.takeoff.model import LineKind

LABOUR = "labour"
FLOOR_GRINDER = "floor-grinder"
HAND_GRINDER = "hand-grinder"
VACUUM = "vacuum"
MIXING_STATION = "mixing-station"
MASONRY_SAW = "masonry-saw"
FLOOR_STRAP = "floor-strap"
TRIP = "trip"
DISPOSAL = "disposal-kg"
BASE = "base"
QUARTER_ROUND = "quarter-round"
TRANSITION = "transition"

CUT = frozenset({BASE, QUARTER_ROUND, TRANSITION})
"""Material that is cut from sticks: two pieces that remain make no longer one."""

MOISTURE_VALID_HOURS = 336.0
"""Until a moisture result expires: two weeks (from memory)."""


class PriceCode(NamedTuple):
    """What a price book is asked for: `unit` is what one price buys (a package for material)."""

    code: str
    unit: str
    kind: LineKind


class TaskCode(NamedTuple):
    """One kind of work: the machine it occupies, and how few and how many people can be at it."""

    code: str
    what: str
    machine: str
    least_people: int
    most_people: int


TASKS: tuple[TaskCode, ...] = (
    TaskCode("furniture-out", "Move furniture out", "", 2, 3),
    TaskCode("containment", "Put up dust containment", "", 1, 2),
    TaskCode("base-off", "Take base off, numbered", "", 1, 2),
    TaskCode("tear-out", "Take up the old floor", "", 1, 3),
    TaskCode("moisture-test", "Set and read moisture tests", "", 1, 1),
    TaskCode("survey", "Shoot the slab", "", 2, 2),
    TaskCode("grind", "Grind high places", FLOOR_GRINDER, 1, 2),
    TaskCode("hand-grind", "Grind high places along walls by hand", HAND_GRINDER, 1, 2),
    TaskCode("bond-grind", "Grind to a bonding profile", FLOOR_GRINDER, 1, 2),
    TaskCode("edge-grind", "Grind the edges by hand", HAND_GRINDER, 1, 2),
    TaskCode("pins", "Set screed pins", "", 1, 2),
    TaskCode("dams", "Set and strip the endings of pours and the rails of ramps", "", 1, 2),
    TaskCode("prime", "Prime", "", 1, 2),
    TaskCode("pour", "Mix, pour and strike off", MIXING_STATION, 3, 4),
    TaskCode("edges", "Fill the borders", "", 1, 2),
    TaskCode("patch", "Patch hollows with the trowel", "", 1, 2),
    TaskCode("skim", "Skim shallow places", "", 1, 2),
    TaskCode("moisture-retest", "Set and read moisture tests again", "", 1, 1),
    TaskCode("polish", "Polish the fill", FLOOR_GRINDER, 1, 2),
    TaskCode("finish", "Check, mark, skim or grind, check again", "", 1, 2),
    TaskCode("verify", "Verification survey", "", 2, 2),
    TaskCode("acclimation", "Bring the boards into running climate", "", 1, 1),
    TaskCode("undercut", "Undercut masonry", MASONRY_SAW, 1, 1),
    TaskCode("casing-legs", "Undercut door casings", "", 1, 2),
    TaskCode("pre-cut", "Cut rows dry, number and stack them", "", 1, 2),
    TaskCode("spread", "Spread adhesive and lay", "", 2, 4),
    TaskCode("transitions", "Set transitions", "", 1, 2),
    TaskCode("trim", "Put base on", "", 1, 2),
    TaskCode("carpet-edge", "Re-stretch carpet at the edge", "", 1, 2),
    TaskCode("clean", "Clean", "", 1, 3),
    TaskCode("furniture-in", "Move furniture in", "", 2, 3),
    TaskCode("hand-over", "Walk through and hand over", "", 1, 1),
)
"""In the usual order of work. There is one task for each floor and phase, but one for each pour and
spread (named by `part`), and one for the whole job (floor "", phase 0) for containment,
moisture-test and hand-over; tests of one phase have its number and no floor. Acclimation has no hours:
it is a wait."""

TASK: dict[str, TaskCode] = {task.code: task for task in TASKS}

MACHINES: tuple[PriceCode, ...] = (
    PriceCode(FLOOR_GRINDER, "mh", "equipment"),
    PriceCode(HAND_GRINDER, "mh", "equipment"),
    PriceCode(VACUUM, "mh", "equipment"),
    PriceCode(MIXING_STATION, "day", "equipment"),
    PriceCode(MASONRY_SAW, "mh", "equipment"),
    PriceCode(FLOOR_STRAP, "each", "equipment"),
    PriceCode(TRIP, "each", "equipment"),
)
"""Machines by the hour or day, straps rented for the job, and a vehicle's way to the site and back."""


def price_codes(*, catalogue: Catalogue, covering: Covering) -> tuple[PriceCode, ...]:
    """Every code that a takeoff from this catalogue can ask a price for; a material's is its product id."""
    made = (catalogue.compound, catalogue.patch, catalogue.primer, catalogue.adhesive)
    packages = [(p.id, p.package) for p in made] + [(item.id, item.package) for item in catalogue.items]
    materials = tuple(PriceCode(id, package.unit, "material") for id, package in packages)
    boards = PriceCode(covering.product, "carton", "material")
    work = (PriceCode(LABOUR, "PH", "labour"), PriceCode(DISPOSAL, "kg", "disposal"))
    return (*materials, boards, *work, *MACHINES)
