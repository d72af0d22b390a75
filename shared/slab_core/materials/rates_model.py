"""Rates and prices that plans are made with: what people and machines get done, and how far that spreads.

Lengths in metres, areas in m², volumes in m³; PH is a person-hour, mh a machine-hour. Values are the firm's
own; the starter values are common practice with no single source.
"""

from dataclasses import dataclass
from typing import Literal

from slab_core.materials.slab_kinds_model import SlabKind
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M

Hardness = Literal["soft", "ordinary", "hard"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimRules:
    """How trim is cut and joined: common practice, no single source; kerf and overlap from memory.

    A run of base longer than a stick is joined by scarfs, each of which takes `scarf_overlap_m` more; no
    joint is nearer to the end of a run than `joint_from_corner_m` and no piece shorter than `least_piece_m`.
    Every end of base in a corner is cut long by `mitre_allowance_m`. `spare_sticks` of new base are for
    miscuts and culls.
    """

    kerf_m: float = 0.003
    scarf_overlap_m: float = 0.015
    least_piece_m: float = 0.305
    joint_from_corner_m: float = 0.406
    mitre_allowance_m: float = 0.02
    spare_sticks: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreads:
    """Standard deviations of the logarithm: 0.1 is about 10 % to either side, two times out of three.

    A planned figure is the median: the true one is as likely above as below. Common practice, no single
    source, where a range is known, taken as two standard deviations to either side: a bag yields
    0.42-0.50 ft³, texture drinks 1/64-1/32 in, a 10 in disc grinds 0.10-0.25 ft³ an hour, primer covers
    200-300 ft² and adhesive 45-55 ft² a gallon. `crew` is shared by all work of a job, `labour` is each kind
    of work's own; both from memory.
    """

    bag_yield: float = 0.045
    texture: float = 0.17
    grinding: float = 0.23
    primer: float = 0.10
    adhesive: float = 0.05
    labour: float = 0.15
    crew: float = 0.08


@dataclass(frozen=True, slots=True, kw_only=True)
class CutTimes:
    """Person-hours that a cut across a board takes, and a metre of one along it: 2 and 3 minutes with
    measuring and the way to the saw (common practice, no single source). The rate of pre-cutting holds as
    many of both as are usual: those of invented rooms of 30 m² laid straight from boards of eight lengths
    (our own count).
    """

    ph: float = 2.0 / 60.0
    rip_ph_per_m: float = 3.0 / 60.0
    usual_per_m2: float = 1.6
    usual_rip_m_per_m2: float = 0.37

    def hours(self, *, cuts: float, ripped_m: float) -> float:
        """Person-hours of so many cuts and so many metres ripped."""
        return cuts * self.ph + ripped_m * self.rip_ph_per_m

    def usual_hours(self, *, m2: float) -> float:
        """What of the hours of pre-cutting so much floor is for cuts and rips."""
        return self.hours(cuts=self.usual_per_m2 * m2, ripped_m=self.usual_rip_m_per_m2 * m2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What the firm's people and machines get done, as one immutable version.

    Names end in what one PH or mh does, or in the PH one of something takes. `residue_share` slows
    bond grinding where a glued covering was; `finish_ph_per_m2` is one cycle of check, mark and skim
    under a very tight rule. Wear parts last so many mh. The values with defaults are from memory, but
    for the residue (60-100 against 100-200 ft² a machine-hour), the finish (2-6 PH per 300 ft²) and
    the most that is poured in a day: `bags_per_day` screeded, 12-30 in a lived-in house, and
    `free_bags_per_day` of pours that find their own level, 60-100.
    A patch takes `patch_ph` and `patch_ph_per_bag`, a skim its area; `hand_mix_ph` is the set-up and wash-out
    of a visit without a pour. `dam_m_per_ph` sets and strips the ending of a pour on open floor.
    A scan takes `scan_setup_ph`, and `scan_targets_ph` where it is placed by targets (common practice, from
    memory). `cuts` beyond the usual are on top of the rate of pre-cutting, fewer come off it. `slab_kinds`
    are what the firm expects of slabs that nobody has seen, the starter's where it says nothing.
    """

    version: str
    people: int
    mixers: int
    grinder_m3_per_mh: float
    hand_grinder_m3_per_mh: float
    grinding_overhead: float
    grinder_set_up_mh_per_day: float
    depth_factors: tuple[tuple[float, float], ...]
    hardness_factors: dict[str, float]
    bond_grinding_m2_per_mh: float
    edge_grinding_m_per_mh: float
    polish_m2_per_mh: float
    prime_m2_per_ph: float
    pins_per_ph: float
    pin_spacing_m: float
    bags_per_hour: float
    placing_people: int
    pour_day_ph: float
    border_m_per_ph: float
    furniture_ph_per_room: float
    base_off_m_per_ph: float
    remove_m2_per_ph: dict[str, float]
    removal_kg_per_m2: dict[str, float]
    survey_readings_per_ph: float
    verify_m2_per_ph: float
    pre_cut_m2_per_ph: float
    lay_m2_per_ph: float
    casing_legs_per_ph: float
    undercut_m_per_ph: float
    transition_m_per_ph: float
    base_on_m_per_ph: float
    carpet_edge_m_per_ph: float
    clean_m2_per_ph: float
    trip_ph: float
    source: str = "common practice, no single source"
    laying_people: int = 2
    residue_share: float = 0.53
    finish_ph_per_m2: float = 0.14
    finish_cycles: int = 2
    moisture_test_ph: float = 0.75
    containment_ph: float = 2.0
    hand_over_ph: float = 2.0
    segments_last_mh: float = 40.0
    cup_wheel_lasts_mh: float = 15.0
    vacuum_bag_lasts_mh: float = 3.0
    vacuum_filter_lasts_mh: float = 60.0
    hours_per_day: float = 8.0
    bags_per_day: int = 30
    free_bags_per_day: int = 80
    patch_ph: float = 0.5
    patch_ph_per_bag: float = 0.75
    skim_m2_per_ph: float = 40 * FOOT2_M2
    hand_mix_ph: float = 0.5
    dam_m_per_ph: float = 40 * FOOT_M
    scan_setup_ph: float = 0.5
    scan_targets_ph: float = 0.25
    trim: TrimRules = TrimRules()
    cuts: CutTimes = CutTimes()
    spreads: Spreads = Spreads()
    slab_kinds: tuple[SlabKind, ...] = ()

    def day_ph(self) -> float:
        """A day's work of everybody, in person-hours."""
        return self.people * self.hours_per_day

    def most_bags(self, *, free: bool) -> int:
        """The most bags of a day's pours, screeded or free."""
        return self.free_bags_per_day if free else self.bags_per_day


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanningCosts:
    """What the correction weighs grinding and filling with: a snapshot, in the job's currency.

    Floats on purpose: they steer a plan and never reach a price. A bag of patch is taken as dear as
    1.25 bags of compound where `patch_per_bag` is None.
    """

    version: str
    labour_per_ph: float
    grinder_per_mh: float
    compound_per_bag: float
    primer_per_m2: float
    patch_per_bag: float | None = None
