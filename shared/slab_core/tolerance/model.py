"""Flatness rules and what a floor's surface makes of them. Lengths in metres."""

from dataclasses import dataclass
from typing import Literal

from slab_core.errors import Problem
from slab_core.numerics.grid import Ints
from slab_core.rooms.model import Point

RuleKind = Literal["both-ways", "gap-only", "chord"]

Verdict = Literal["pass", "fail", "measure-more"]
"""Three answers: the floor keeps the rule, it does not, or the readings cannot tell."""


Seen = Literal["read", "recalled", "practice"]
"""Whether a class's values were read in a public copy or quotation, recalled from memory, or are common
practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassSource:
    """The class that a rule comes from, and where its values come from: `seen` is read in a public copy or
    quotation, recalled from memory, or common practice."""

    code: str
    source: str
    seen: Seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """No more than `gap_m` of departure from a straightedge of `length_m`.

    both-ways: the larger of the gap under the edge and the rise over the lower hull, so that a
    crown on which the edge rocks counts. gap-only: the gap under the edge. chord: both ends on the
    floor. `of_class` is where the rule comes from if it was asked for by the name of a class.
    `share` of all lays of the edge on the floor have to keep the gap.
    """

    length_m: float
    gap_m: float
    kind: RuleKind = "both-ways"
    of_class: ClassSource | None = None
    share: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassFNumbers:
    """(FF, FL) of a class, which the whole floor has to reach and, lower ones, every part of it between
    construction joints; and where they come from."""

    whole: tuple[float, float]
    local: tuple[float, float]
    of_class: ClassSource


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceSpec:
    """What the floor must meet. `level_m` is the largest fall over the whole floor, if asked for;
    `f_numbers_class` goes with `f_numbers` that a class asks for."""

    rules: tuple[Rule, ...]
    level_m: float | None = None
    f_numbers: tuple[float, float] | None = None
    f_numbers_class: ClassFNumbers | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WallDistance:
    """Distance to a wall, named by the room and the vertices it runs between (1 is the first)."""

    room: str
    wall: str
    distance_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One departure: where it is, how large, and how the edge lies there."""

    at: Point
    departure_m: float
    side: Literal["gap", "rise"]
    support_a: Point
    support_b: Point
    direction_deg: float
    walls: tuple[WallDistance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChancePlace:
    """A place whose departure may be more than the rule allows, and the chance that it is."""

    at: Point
    failing: float
    walls: tuple[WallDistance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """How likely the floor keeps a rule, by what its readings leave unsure.

    `verdict` is pass where the `probability` of passing is at least `pass_at` and the readings can prove the
    rule: fine enough ones near every place and on both sides of every joint. It is fail where the probability
    is at most `fail_at`, the fitted floor breaks the rule, and by more than readings that cannot prove it
    leave unsure. Else it is measure-more, and a problem says why and where.
    `draws` of the surface were tried; none where the answer is plain without. With a chance of 90 % (more
    where it is plain) the largest departure is from `largest_low_m` to `largest_high_m`. A real edge of the
    rule's length sags by `edge_sag_m` on its ends; of it `placing_sd_m`, a standard deviation, is part of the
    probability. `places` are where the rule is most likely broken, also where no draw breaks it.
    """

    verdict: Verdict
    probability: float
    draws: int
    pass_at: float
    fail_at: float
    largest_low_m: float
    largest_high_m: float
    edge_sag_m: float
    placing_sd_m: float
    places: tuple[ChancePlace, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RuleReport:
    """One rule on one floor. `departure` is the largest over all edges that cover a node, in steps of
    0.01 mm, shape (ny, nx), and 0 off the floor. `used_length_m` is the edge that fits where the rule's own
    does not. `passes` is about the fitted surface alone; `chance`, where it was asked for, about what may be
    true. No edge between the sixteen directions and the nodes departs from the fitted surface by more than
    `largest_m` and `between_m` together, where no wall keeps it from being turned. `kept_share` of the lays
    of the edge keep the gap, where the rule does not ask it of all."""

    rule: Rule
    used_length_m: float
    largest_m: float
    passes: bool
    failing_share: float
    worst: tuple[Place, ...]
    departure: Ints
    between_m: float = 0.0
    chance: Chance | None = None
    kept_share: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepAtJoint:
    """The step at a declared joint where it is largest: its height, standard error, place, and the side
    of the joint, seen from its start towards its end, that lies higher there."""

    room: str
    joint: str
    at: Point
    height_m: float
    sd_m: float
    higher: Literal["left", "right"]
    walls: tuple[WallDistance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFNumbers:
    """F-numbers of one measured line; infinite for a perfect plane. `curvature_m` are the line's q_i, which
    the FF comes from."""

    line: str
    ff: float
    fl: float
    q_count: int
    z_count: int
    curvature_m: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionFNumbers:
    """F-numbers of the lines in one part of the floor between its construction joints."""

    lines: tuple[str, ...]
    ff: float
    fl: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FNumbers:
    """F-numbers by ASTM E1155 from measured lines, combined over all of them.

    `ff_interval` and `fl_interval` are 90 % limits by our own bootstrap over lines, not by the standard's
    rule; None below four lines. `shortcomings` say what keeps the lines from being a full test. `estimated`
    numbers come from a fitted surface: they read high, and prove nothing. `sections` are the parts of the
    floor between construction joints that hold a line, of a floor that has such joints.
    """

    ff: float
    fl: float
    lines: tuple[LineFNumbers, ...]
    spacing_m: float
    notes: tuple[str, ...] = ()
    ff_interval: tuple[float, float] | None = None
    fl_interval: tuple[float, float] | None = None
    estimated: bool = False
    sections: tuple[SectionFNumbers, ...] = ()
    shortcomings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToleranceReport:
    """Result of the tolerance stage for one floor. `passes` is about the fitted surface alone. `verdict` is
    of all that was asked for; `level_verdict` and `f_numbers_verdict` of their parts, None where not asked.
    `f_numbers_class` are the F-numbers that were asked for by the name of a class, if they were.
    """

    floor_id: str
    rules: tuple[RuleReport, ...]
    passes: bool
    fall_m: float
    slope_x: float
    slope_y: float
    f_numbers: FNumbers | None
    problems: tuple[Problem, ...] = ()
    steps: tuple[StepAtJoint, ...] = ()
    verdict: Verdict | None = None
    f_numbers_class: ClassFNumbers | None = None
    level_verdict: Verdict | None = None
    f_numbers_verdict: Verdict | None = None
