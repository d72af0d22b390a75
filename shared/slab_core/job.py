"""A whole job as it enters the line: everything that decides its results, and nothing else."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from slab_core.correction.model import Limits
from slab_core.materials.model import Catalogue, Climate, Covering, PlanningCosts, Rates
from slab_core.quote.model import PriceBook
from slab_core.rooms.model import Room
from slab_core.schedule.model import Calendar
from slab_core.surface.model import SurfaceOptions
from slab_core.surveys.model import Benchmark, Survey
from slab_core.takeoff.model import Scope, Site
from slab_core.tolerance.model import ToleranceSpec


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Job:
    """Input of the pipeline. `seed`, `pricing_date` and `earliest_start` (with its zone) are fixed when
    the estimate is posted, so that running it again gives the same answer."""

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
    basis: Literal["surveyed", "allowance"] = "surveyed"
