"""Starter values for a firm that has not filled in its own: common practice, no single source.

Where practice gives a range, the middle of it is taken, and the range stands beside the value.
Values marked "from memory" have no range either and are the first that a firm should replace.
Names are generic; no value describes any particular product.
"""

from slab_core.materials.model import Adhesive, Catalogue, Compound, Covering, Package, Patch, Primer
from slab_core.materials.rates_model import PlanningCosts, Rates
from slab_core.materials.slab_limits_model import SlabLimits
from slab_core.materials.starter_items import items
from slab_core.units.conversions import CUBIC_METRES_PER_CUBIC_FOOT as FOOT3_M3
from slab_core.units.conversions import KILOGRAMS_PER_POUND as POUND_KG
from slab_core.units.conversions import LITRES_PER_US_GALLON as GALLON_L
from slab_core.units.conversions import SQUARE_METRES_PER_SQUARE_FOOT as FOOT2_M2
from slab_core.units.conversions import celsius, square_metres_per_litre
from slab_core.units.lengths import METRES_PER_FOOT as FOOT_M
from slab_core.units.lengths import METRES_PER_INCH as INCH_M

VERSION = "starter-1"
COMMON = "common practice, no single source"


DRY_GOODS_DAYS, BOARDS_DAYS = 2, 10
"""From the order until the supplier has delivered (from memory)."""


def catalogue() -> Catalogue:
    """A generic product of every kind, with a plain (not moisture-blocking) wood adhesive."""
    return Catalogue(
        version=VERSION,
        compound=compound(),
        primer=primer(),
        adhesive=plain_adhesive(),
        items=items(),
        patch=Patch(lead_days=DRY_GOODS_DAYS),
    )


def compound() -> Compound:
    """A cement-based levelling compound in 50 lb bags, at 70 °F and 50 % RH."""
    return Compound(
        id="levelling-compound",
        name="Cement-based levelling compound, 50 lb",
        package=Package(unit="bag", size=0.45 * FOOT3_M3, size_unit="m3", weight_kg=50 * POUND_KG),
        yield_low_m3=0.42 * FOOT3_M3,
        yield_high_m3=0.50 * FOOT3_M3,
        least_lift_m=INCH_M / 8,
        greatest_lift_m=1.5 * INCH_M,
        featheredge=False,
        waste_share=0.065,  # 5-8 % stays in pails, lips and outside the screeds
        texture_m=3 * INCH_M / 128,  # 1/64-1/32 in drunk by a profiled slab
        heals_minutes=11.5,  # 8-15
        heals_radius_m=4.5 * FOOT_M,  # 3-6 ft
        walk_hours=4.0,  # 2-6
        next_pour_hours=18.0,  # 12-24
        cover_hours=20.0,  # 16-24 up to 1/4 in
        cover_hours_per_further_quarter_inch=24.0,
        pot_life_minutes=15.0,  # 10-20
        lead_days=DRY_GOODS_DAYS,
        limits=SlabLimits(
            least_temperature_c=celsius(50.0),
            most_temperature_c=celsius(85.0),
            least_air_temperature_c=celsius(50.0),
            most_air_temperature_c=celsius(85.0),
            least_profile=3,  # for cement on concrete
            not_on=("cutback", "other-adhesive", "curing-compound", "paint"),
            source=COMMON,
        ),
    )


def primer() -> Primer:
    """An acrylic primer: two coats on a porous slab, one on a dense one."""
    return Primer(
        id="acrylic-primer",
        name="Acrylic primer, 1 gal",
        package=Package(unit="jug", size=GALLON_L, size_unit="L", weight_kg=3.9),
        coverage_porous_m2_per_l=square_metres_per_litre(250),  # 200-300 ft²/gal a coat
        coverage_dense_m2_per_l=square_metres_per_litre(400),  # 300-500
        coats_porous=2,
        coats_dense=1,
        dry_hours=2.5,  # 1-4
        pour_within_hours=24.0,
        lead_days=DRY_GOODS_DAYS,
    )


def plain_adhesive() -> Adhesive:
    """A moisture-cure urethane wood adhesive spread with a plain trowel."""
    return _adhesive(id="wood-adhesive", name="Urethane wood adhesive", ft2_per_gallon=50, barrier=False)


def barrier_adhesive() -> Adhesive:
    """The same with the heavier trowel that also blocks moisture: a priced alternative."""
    return _adhesive(
        id="wood-adhesive-barrier", name="Moisture-barrier wood adhesive", ft2_per_gallon=30, barrier=True
    )


def _adhesive(*, id: str, name: str, ft2_per_gallon: float, barrier: bool) -> Adhesive:
    return Adhesive(
        id=id,
        name=f"{name}, 4 gal",
        package=Package(unit="pail", size=4 * GALLON_L, size_unit="L", weight_kg=24.0),
        coverage_m2_per_l=square_metres_per_litre(ft2_per_gallon),  # plain 45-55 ft²/gal, barrier 25-35
        loss_share=0.04,  # 3-5 % stays in the pail
        film_m=5 * INCH_M / 64,  # 1/16-3/32 in
        working_minutes=60.0,  # 30-90
        moisture_barrier=barrier,
        cure_hours=24.0,  # from memory
        lead_days=DRY_GOODS_DAYS,
        limits=SlabLimits(
            most_humidity_percent=95.0 if barrier else 75.0,  # 75-99 %, by product; 95 from memory
            most_vapour_lb=None if barrier else 3.0,  # 3-5 lb
            most_ph=9.0,
            not_on=("cutback", "curing-compound", "paint"),
            source=COMMON,
        ),
    )


def covering() -> Covering:
    """An engineered oak plank, 5 × 1/2 in, random lengths that average 3.6 ft, 22.5 ft² a carton."""
    return Covering(
        product="engineered-plank",
        name="Engineered oak plank 5 in × 1/2 in",
        width_m=5 * INCH_M,
        thickness_m=INCH_M / 2,
        lengths_m=(0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8),
        carton_m2=22.5 * FOOT2_M2,
        carton_kg=19.0,  # about 9 kg/m² of 1/2 in board, from memory
        expansion_gap_m=3 * INCH_M / 8,  # 1/4-1/2 in for a glued engineered floor
        stagger_m=9 * INCH_M,  # 8-10 in for 3-5 in planks
        least_piece_m=0.2,
        least_rip_m=5 * INCH_M / 3,  # a third to a half of the width, or 1-1.5 in
        lead_days=BOARDS_DAYS,
    )


def rates() -> Rates:
    """What three people with a single-disc grinder and one mixing barrel get done."""
    return Rates(
        version=VERSION,
        people=3,
        mixers=1,
        grinder_m3_per_mh=0.16 * FOOT3_M3,  # single disc .10-.25 ft³/h, .16 the usual
        hand_grinder_m3_per_mh=0.055 * FOOT3_M3,  # .03-.08
        grinding_overhead=1.3,
        grinder_set_up_mh_per_day=0.75,  # 0.5-1
        depth_factors=((INCH_M / 8, 1.0), (3 * INCH_M / 16, 1.3), (INCH_M / 4, 1.6)),
        hardness_factors={"soft": 0.7, "ordinary": 1.0, "hard": 2.0},  # hard 1.5-2.5
        bond_grinding_m2_per_mh=150 * FOOT2_M2,  # single disc on clean concrete 100-200
        edge_grinding_m_per_mh=32.5 * FOOT_M,  # 25-40
        polish_m2_per_mh=115 * FOOT2_M2,  # 80-150
        prime_m2_per_ph=325 * FOOT2_M2,  # 250-400 a coat
        pins_per_ph=11.5,  # 8-15
        pin_spacing_m=4 * FOOT_M,  # 3-5 ft
        bags_per_hour=21.5,  # 18-25 with one barrel
        placing_people=3,
        pour_day_ph=7.5,  # 6-9: set-up, wash-out, trip, re-prime
        border_m_per_ph=12.5 * FOOT_M,  # 10-15
        furniture_ph_per_room=1.125,  # 0.75-1.5 each way
        base_off_m_per_ph=50 * FOOT_M,  # 40-60
        remove_m2_per_ph={
            "floating": 90 * FOOT2_M2,  # 60-120
            "carpet": 150 * FOOT2_M2,  # 100-200
            "glued-wood": 21 * FOOT2_M2,  # 12-30
            "tile": 15 * FOOT2_M2,  # 10-20
        },
        removal_kg_per_m2={"floating": 8.0, "carpet": 3.5, "glued-wood": 12.0, "tile": 45.0},  # from memory
        survey_readings_per_ph=90.0,  # 60-120
        verify_m2_per_ph=225 * FOOT2_M2,  # 150-300
        pre_cut_m2_per_ph=20 * FOOT2_M2,  # 15-25
        lay_m2_per_ph=32.5 * FOOT2_M2,  # 25-40, pre-cut
        casing_legs_per_ph=6.0,  # 4-8
        undercut_m_per_ph=4.5 * FOOT_M,  # masonry 3-6
        transition_m_per_ph=9 * FOOT_M,  # 6-12
        base_on_m_per_ph=32.5 * FOOT_M,  # 25-40
        carpet_edge_m_per_ph=15 * FOOT_M,  # 10-20
        clean_m2_per_ph=225 * FOOT2_M2,  # 150-300
        trip_ph=1.25,  # 1-1.5
    )


def planning_costs() -> PlanningCosts:
    """Costs that make a ground cubic foot 4-5 times as dear as a placed one (practice: 3-5).

    An hour of grinding takes machine, vacuum and what wears: in the starter price list some 46 with a floor
    grinder and 27 by hand, of which this is the middle. Primer is two coats with the labour of rolling them
    on, per m² of slab. From memory.
    """
    return PlanningCosts(
        version=VERSION, labour_per_ph=50.0, grinder_per_mh=36.5, compound_per_bag=40.0, primer_per_m2=5.5
    )
