"""What a firm asks of its schedule and what it is answered; no algorithm."""

from dataclasses import dataclass
from typing import Literal

from slab_core.errors import Problem
from slab_core.schedule.firm.model import Crew, Firm, FirmJob, FirmPlan, Machine, Site, Visit

Ask = Literal["plan", "replan", "what-if"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """Minutes from one place to another; "" is the yard."""

    start: str
    end: str
    minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmQuestion:
    """All that decides an answer. A replan holds on to the visits `before`, but for those of the jobs in
    `free`; a what-if asks for the job `new`. `seconds` bound the search; `now_minute` is the first minute
    that is planned."""

    ask: Ask
    crews: tuple[Crew, ...]
    machines: tuple[Machine, ...]
    sites: tuple[Site, ...]
    jobs: tuple[FirmJob, ...]
    ways: tuple[Way, ...]
    now_minute: int
    seconds: float
    seed: int = 1
    before: tuple[Visit, ...] = ()
    free: tuple[str, ...] = ()
    new: FirmJob | None = None

    def firm(self) -> Firm:
        """The firm with the jobs that it has already."""
        return Firm(
            crews=self.crews,
            machines=self.machines,
            sites=self.sites,
            jobs=self.jobs,
            travel={(way.start, way.end): way.minutes for way in self.ways},
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A visit that begins at another time than before, or is another crew's or other people's, or has another
    machine; in earlier results people are 0 and machines ""."""

    job: str
    task: str
    crew_before: str
    crew: str
    start_before_minute: int
    start_minute: int
    people_before: int = 0
    people: int = 0
    machine_before: str = ""
    machine: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Replan:
    """The new plan, what moved, and the jobs that kept their promise before and do not now."""

    plan: FirmPlan
    moves: tuple[Move, ...]
    newly_late: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """A new job: its first feasible start and its finish when nobody else moves; and, where that breaks its
    own promise, what would have to move for the best of both. `problems` are greatest lags of the job that
    cannot be kept."""

    first_start_minute: int
    finish_minute: int
    visits: tuple[Visit, ...]
    instead: Replan | None
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FirmAnswer:
    """The answer to what was asked: the plan, with what moved and which promises it newly breaks where there
    was one before; of a what-if no plan, but what the job would do."""

    ask: Ask
    plan: FirmPlan | None
    moves: tuple[Move, ...] = ()
    newly_late: tuple[str, ...] = ()
    what_if: WhatIf | None = None
    problems: tuple[Problem, ...] = ()
