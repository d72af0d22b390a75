"""Everything the takeoff's parts read from, and the conditions that several of them share."""

from dataclasses import dataclass
from datetime import date
from math import ceil

from slab_core.correction.model import Plan
from slab_core.layout.model import Layout
from slab_core.materials.model import Catalogue, Climate, Covering, Item
from slab_core.materials.rates_model import Rates
from slab_core.rooms.model import KeepOut
from slab_core.scans.model import Scan
from slab_core.takeoff.areas import WorkArea
from slab_core.takeoff.model import Scope, Site
from slab_core.tolerance.model import Rule, ToleranceReport
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

TIGHT_GAP_M = INCH_M / 16
TIGHT_LENGTH_M = 10 * FOOT_M
_SLACK_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Brief:
    """A job's inputs to the takeoff, with its floors split into areas. `rules` are those of a job that has no
    reports, as its slab was not seen. The job `begins` on that day or later."""

    areas: tuple[WorkArea, ...]
    reading_count: int
    reports: tuple[ToleranceReport, ...]
    plans: tuple[Plan, ...]
    layouts: tuple[Layout, ...]
    catalogue: Catalogue
    covering: Covering
    rates: Rates
    climate: Climate
    site: Site
    scope: Scope
    scans: tuple[Scan, ...] = ()
    rules: tuple[Rule, ...] = ()
    finished: frozenset[str] = frozenset()
    begins: date | None = None

    def scans_with_targets(self) -> int:
        """Scans that are placed by targets, which somebody sets and measures."""
        return sum(bool(scan.targets) for scan in self.scans)

    def floor_m2(self) -> float:
        """Slab area of the whole job."""
        return sum(area.m2 for area in self.areas)

    def plan(self, floor: str) -> Plan:
        """The plan of one floor."""
        return next(plan for plan in self.plans if plan.floor_id == floor)

    def tight(self) -> bool:
        """Whether any floor is under a rule so tight that the fill is polished and finished."""
        reported = (rule.rule for report in self.reports for rule in report.rules)
        return any(map(is_tight, (*self.rules, *reported)))

    def no_grinding(self) -> bool:
        """No grinding and no drilling over tendons, heating pipes or membranes."""
        return bool(self.site.slab_has)

    def bonds(self) -> bool:
        """Whether the slab is ground for bond, but for keep-out zones."""
        return self.scope.bond_grinding and not self.no_grinding()

    def keep_outs(self) -> tuple[tuple[str, KeepOut], ...]:
        """All keep-out zones with the names of their rooms."""
        return tuple(
            (room.name, zone) for area in self.areas for room in area.rooms for zone in room.keep_outs
        )

    def item(self, id: str) -> Item | None:
        """A product beside compound, primer and adhesive, if the catalogue has it."""
        return next((item for item in self.catalogue.items if item.id == id), None)


def is_tight(rule: Rule) -> bool:
    """At most 1/16 in over 10 ft or more: then only screeding with polish and a finishing loop will do."""
    return rule.gap_m <= TIGHT_GAP_M + _SLACK_M and rule.length_m >= TIGHT_LENGTH_M - _SLACK_M


def moisture_test_count(*, floor_m2: float, exterior_walls: int = 0) -> int:
    """In-slab humidity tests: three for the first 1,000 ft² and one for each further 1,000 ft² or part, one
    of them within 3 ft of each exterior wall on or below grade.

    ASTM F2170-09 §10.1 as quoted by two instrument manuals; that a part counts whole is our reading of
    "at least one for each additional".
    """
    further_ft2 = max(0.0, floor_m2 / FOOT2_M2 - 1000.0)
    return max(3 + ceil(further_ft2 / 1000.0 - 1e-9), exterior_walls)
