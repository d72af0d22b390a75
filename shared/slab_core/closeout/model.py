"""What a job really took, beside what was estimated, and what is learned from it."""

from dataclasses import dataclass

from slab_core.materials.slab_kinds_model import Age, Covered


@dataclass(frozen=True, slots=True, kw_only=True)
class EstimatedLine:
    """A line as it was quoted: `key` is its stable key as text, `code` the work or material in it."""

    key: str
    code: str
    kind: str
    what: str
    quantity: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Actual:
    """What a line really took, in the line's own unit."""

    key: str
    quantity: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedLine:
    """A line beside what it took. `absurd`: so far off that it is left out of what is learned until somebody
    has looked at it."""

    key: str
    kind: str
    what: str
    unit: str
    estimated: float
    actual: float
    ratio: float
    absurd: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedTotal:
    """All lines of one unit that have an actual figure."""

    unit: str
    estimated: float
    actual: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A job's actuals. `unreported` are lines that were estimated and not told."""

    lines: tuple[ComparedLine, ...]
    totals: tuple[ComparedTotal, ...]
    unreported: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """How one kind of work or material compares with what is planned with: actual over estimated.

    `factor` is the median of what is believed after `jobs` jobs, `low` to `high` holds the true one with a
    chance of 95 %; before any job it is 1 within the prior's spread. `left_out` counts absurd entries.
    """

    code: str
    jobs: int
    left_out: int
    factor: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabTold:
    """What a job's slab took: bags of compound, and hours of the large grinder for height. None where that
    was not told, or says nothing of slabs."""

    removal: Covered
    age: Age
    area_m2: float
    bags: float | None
    grinding: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedSlab:
    """What is expected of slabs under one kind of floor and of one age, before these jobs and after: the
    median by the m², and what a floor of 300 ft² keeps to in 80 of 100 cases. `left_out` counts absurd
    entries."""

    removal: Covered
    age: Age
    what: str
    jobs: int
    left_out: int
    median_before_per_m2: float
    median_after_per_m2: float
    p80_before_per_m2: float
    p80_after_per_m2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposedValue:
    """A planned figure and what the jobs say it should be; `field` is its place in the firm's document."""

    field: str
    before: float
    after: float
    learned: Learned
