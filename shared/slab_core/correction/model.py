"""What is ground off and filled up so that a floor passes. Lengths in metres, volumes in m³."""

from dataclasses import dataclass
from typing import Literal

from slab_core.correction.assurance_model import Assurance, AssuredPrice
from slab_core.correction.progress_model import Progress
from slab_core.correction.ramps_model import DoorWork
from slab_core.errors import Problem
from slab_core.numerics.grid import Grid, Ints, Mask
from slab_core.rooms.model import Point, Ring
from slab_core.tolerance.model import RuleReport, WallDistance

SolveStatus = Literal["optimal", "feasible", "not-needed", "infeasible"]
PourMethod = Literal["screeded", "free"]
TrowelMethod = Literal["patch", "skim"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the crew must not cross. `no_grinding`: tendons, heating pipes or a membrane in the slab."""

    greatest_grind_m: float = 0.00635
    greatest_fill_m: float = 0.0381
    no_grinding: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Solve:
    """How good the answer is: `objective` and proven lower `bound` in the job's currency.

    The time taken is kept beside the step and not here: equal recipes give equal results.
    """

    status: SolveStatus
    objective: float
    bound: float

    def gap(self) -> float:
        """Share of the objective that is not proven."""
        return 0.0 if self.objective <= 0 else max(0.0, (self.objective - self.bound) / self.objective)


PROVEN_GAP = 1e-3


def proven_to(*, objective: float, bound: float) -> Solve:
    """The answer with the bound, "optimal" where no more than a thousandth is left between them."""
    closed = objective - bound <= PROVEN_GAP * objective
    return Solve(status="optimal" if closed else "feasible", objective=objective, bound=bound)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A screed pin: where it stands and how far its tip is above the slab there."""

    at: Point
    above_slab_m: float
    height_m: float
    walls: tuple[WallDistance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """One pour of one bay and lift. `bags` are whole: crews dose water per bag.

    Lift 1 goes in first. The surface of a lift lies `below_m` under the finished floor, 0 for the last one,
    and its pins stand to that. `edge_m` is the wall along the bay, filled with short edges the next day.
    `minutes` is how long mixing and placing take, `flow_minutes` how long the compound heals at the site's
    temperature; `sub_bays` parts, each poured on its own, keep the wet edge fed. A free pour has no pins.
    """

    id: str
    phase: int
    lift: int
    outline: Ring
    area_m2: float
    volume_m3: float
    mean_depth_m: float
    greatest_depth_m: float
    bags: int
    edge_m: float
    minutes: float
    flow_minutes: float
    pins: tuple[Pin, ...] = ()
    sub_bays: int = 1
    method: PourMethod = "screeded"
    below_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PatchArea:
    """One place that is filled with a trowel: a patch, or a skim over a wide and shallow one.

    `at` is where it is deepest, `bags` the patch really mixed, `bags_opened` the whole bags opened for it:
    what is left of a bag goes into the next.
    """

    id: str
    phase: int
    method: TrowelMethod
    at: Point
    outline: Ring
    area_m2: float
    volume_m3: float
    greatest_depth_m: float
    bags: float
    bags_opened: int
    person_hours: float
    walls: tuple[WallDistance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GrindArea:
    """One area ground for height, keys at the rim of a pour included.

    `machine_hours` are those of the large machine, `hand_hours` those of the hand tool along the walls;
    daily set-up is in neither.
    """

    id: str
    phase: int
    at: Point
    area_m2: float
    volume_m3: float
    greatest_depth_m: float
    machine_hours: float
    walls: tuple[WallDistance, ...]
    hand_hours: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading:
    """A place where one more height would tell most about what the plan takes, in words for the tape too.

    `bags_sd` and `cost_sd` (job's currency) are standard deviations once this place and those before it are
    read; `saves` is what the reading takes off the expected cost of bags left over and of a day lost for want
    of bags.
    """

    at: Point
    place: str
    walls: tuple[WallDistance, ...]
    bags_sd: float
    cost_sd: float
    saves: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReadings:
    """How well this survey tells the plan's bags and running cost, and where to read next, best first.

    Standard deviations of bags as really mixed and of the cost without whole bags, days and set-ups, the plan
    held fixed while the slab is only known within its errors. No reading where it is known well enough.
    """

    bags_sd: float
    cost_sd: float
    readings: tuple[NextReading, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GivingLimit:
    """A limit that would do if it alone gave way, and by how much at least; 0 for one that has to go."""

    limit: Literal["gap", "greatest-grind", "greatest-fill", "keep-outs", "fixed-ranges"]
    by_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Unrestricted:
    """The cheapest heights that pass, whatever can be placed, on nodes so far apart.

    `cost` counts fill and grinding by volume alone; `bound` is proven, and so no plan that passes costs less
    on these nodes. `price_of_realism` is what the plan costs more, with what is done at doorways; None
    without a plan. `violation_m`: the most that a rule is missed by. Where no heights would do, `would_do`
    says which limits stop them.
    """

    status: Literal["optimal", "feasible", "infeasible", "unfinished"]
    node_spacing_m: float
    cost: float
    bound: float
    fill_m3: float
    grind_m3: float
    violation_m: float
    price_of_realism: float | None
    would_do: tuple[GivingLimit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Considered:
    """A way to correct the floor that was weighed: what it costs, whether the floor then passes (None where
    that was not checked, as nothing was to be won), and why it was not taken ("" for the one that was).
    `bound` is the least that a way of its kind could cost."""

    name: str
    cost: float | None
    bound: float
    passes: bool | None
    why_not: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """What is left of a rule once the floor is corrected as planned, beside the standard deviation of what
    the crew's placing adds to a departure: the plan holds the rule by `margin_m`, its work is off by
    `placing_sd_m`."""

    margin_m: float
    placing_sd_m: float


WorkabilityCause = Literal["areas", "by-hand", "days", "set-ups", "whole-bags", "heights"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkabilityPart:
    """What one thing adds that only placing asks for. "areas": primer, pins, borders and endings, and what
    the slab drinks; "by-hand": hours with the trowel, and patch in place of compound; "heights": all the
    rest, as what is placed is not what would cost least by volume."""

    cause: WorkabilityCause
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Workability:
    """What it costs that a crew has to place it: the plan's `cost`, what is done at doorways apart, beside
    `shapes_cost`, that of the cheapest heights by volume alone: compound as it is poured and grinding,
    without areas, starts, days and whole bags. Where the optimum was asked for it is `unrestricted.cost`, so
    the difference is the price of realism; else that of the cheapest heights that were drawn for the ways
    weighed, which leave a crew's errors of the rules, and of a floor brought to one plane that of the
    cheapest plane that is allowed. The `parts` add up to the difference, and `words` say them."""

    cost: float
    shapes_cost: float
    parts: tuple[WorkabilityPart, ...] = ()
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Result of the correction stage for one floor and one alternate.

    `grind` and `fill` in steps of 0.01 mm on the surface's grid, shape (ny, nx); the corrected floor
    is height - grind + fill. `plane` is (height at the origin, slope in x, slope in y), or None
    where the floor is left as it is. `after` is the re-check of the corrected floor. `grinder_hours` and
    `hand_grinder_hours` are without daily set-up. `pour_days` counts days on which the field is poured;
    `border_m` is the wall along it, filled the day after. `next_readings` is None where nothing is planned,
    `unrestricted` where it was not asked for, `workability` where heights were kept or given.

    `bags` are all whole bags, `patch_bags` those of patch among them. `patches` are filled with a trowel and
    are in `fill` but not in `pours`; `trowelled` marks their nodes. `bays` is the number of the bay that each
    node is poured in, 0 where nothing is poured; None in plans stored before it was kept. `twist` is the rise
    in m of a ruled surface for each m² of across × along of the bays, 0 for a plane. `ending_m` is the rim of
    pours that stop on open floor. What else was weighed stands in `considered`, cheapest first. `assurance`
    is None where no probability was asked for. `progress` stands in the plan for what is left of an earlier
    one, and `finish_kept` is the finishing that the earlier one counted on, by the price of its probability.
    """

    floor_id: str
    alternate: str
    solve: Solve
    plane: tuple[float, float, float] | None
    grid: Grid
    inside: Mask
    grind: Ints
    fill: Ints
    grind_m3: float
    grind_m2: float
    fill_m3: float
    fill_m2: float
    greatest_grind_m: float
    greatest_fill_m: float
    mean_fill_m: float
    grinder_hours: float
    hand_grinder_hours: float
    pours: tuple[Pour, ...]
    grind_areas: tuple[GrindArea, ...]
    bags: int
    pour_days: int
    border_m: float
    after: tuple[RuleReport, ...]
    passes: bool
    problems: tuple[Problem, ...] = ()
    next_readings: NextReadings | None = None
    unrestricted: Unrestricted | None = None
    patches: tuple[PatchArea, ...] = ()
    patch_bags: int = 0
    trowelled: Mask | None = None
    bays: Ints | None = None
    twist: float = 0.0
    considered: tuple[Considered, ...] = ()
    margins: tuple[Margin, ...] = ()
    workability: Workability | None = None
    ending_m: float = 0.0
    assurance: Assurance | None = None
    progress: Progress | None = None
    doorways: tuple[DoorWork, ...] = ()
    finish_kept: AssuredPrice | None = None

    def finishing(self) -> AssuredPrice | None:
        """The rounds of finishing that the plan counts on; None where no probability was asked for."""
        return self.finish_kept if self.assurance is None else self.assurance.chosen
