"""A whole job as it enters the line, and which model each stage makes of it; no algorithm is loaded here."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from slab_core.correction.assurance_model import Confidence
from slab_core.correction.family import LevelPoint
from slab_core.correction.model import Limits, Plan
from slab_core.correction.ramps_model import DoorWays
from slab_core.correction.resurvey.standing import Followed
from slab_core.layout.model import Layout
from slab_core.materials.model import Catalogue, Climate, Covering
from slab_core.materials.rates_model import PlanningCosts, Rates
from slab_core.quote.model import JobDiscount, PriceBook, Quote
from slab_core.rooms.model import Room, Rooms
from slab_core.scans.model import ReducedScan
from slab_core.schedule.model import Calendar, Schedule
from slab_core.stages import PLANE, Basis
from slab_core.surface.model import Surface, SurfaceOptions
from slab_core.surveys.model import Benchmark, Network, Survey
from slab_core.takeoff.model import Scope, Site, Takeoff
from slab_core.tolerance.model import ToleranceReport, ToleranceSpec


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Job:
    """Input of the pipeline. `seed`, `pricing_date` and `earliest_start` (with its zone) are fixed when
    the estimate is posted, so that running it again gives the same answer. The first of the `alternates` is
    the main one; `level_through` holds for the level one. With the basis `allowance` there are no surveys,
    the one alternate is that, and the slab is to be `corrected_as` the alternate plane or cheapest."""

    name: str
    rooms: tuple[Room, ...]
    benchmarks: tuple[Benchmark, ...]
    surveys: tuple[Survey, ...]
    tolerance: ToleranceSpec
    covering: Covering
    catalogue: Catalogue
    rates: Rates
    planning: PlanningCosts
    price_book: PriceBook
    calendar: Calendar
    seed: int
    pricing_date: date
    earliest_start: datetime
    surface: SurfaceOptions = SurfaceOptions()
    limits: Limits = Limits()
    scope: Scope = Scope()
    site: Site = Site()
    climate: Climate = Climate()
    basis: Basis = "surveyed"
    alternates: tuple[str, ...] = (PLANE,)
    corrected_as: str = PLANE
    level_through: tuple[LevelPoint, ...] = ()
    lower_bound: bool = False
    confidence: Confidence | None = None
    doorways: DoorWays | None = None
    tax_place: str = ""
    discounts: tuple[JobDiscount, ...] = ()
    followed: Followed | None = None


MODELS: Final[dict[str, type[Any]]] = {
    "rooms": Rooms,
    "scans": ReducedScan,
    "surveys": Network,
    "surface": Surface,
    "tolerance": ToleranceReport,
    "correction": Plan,
    "layout": Layout,
    "takeoff": Takeoff,
    "schedule": Schedule,
    "quote": Quote,
}
"""The model of each stage's result, by the stage's name."""
