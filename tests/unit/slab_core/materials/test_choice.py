"""A job takes a catalogue's usual products, or those that it names."""

from dataclasses import replace

from slab_core.materials import starter
from slab_core.materials.choice import Wanted, with_wanted
from slab_core.materials.model import Trowel

SHALLOW = Trowel(notch="3/16 in V", coverage_m2_per_l=1.5, film_m=0.0015)
DEEP = Trowel(notch="1/4 in square", coverage_m2_per_l=0.9, film_m=0.0025)
RAPID = replace(starter.compound(), id="rapid", pot_life_minutes=10.0)
BARRIER = replace(starter.barrier_adhesive(), trowels=(SHALLOW, DEEP))
CATALOGUE = replace(starter.catalogue(), compounds=(RAPID,), adhesives=(BARRIER,))


def test_without_a_wish_the_usual_products_are_taken_and_no_further_ones_are_kept() -> None:
    chosen, slips = with_wanted(catalogue=CATALOGUE, wanted=Wanted())
    assert slips == ()
    assert chosen == starter.catalogue()


def test_named_products_take_the_place_of_the_usual_ones() -> None:
    wanted = Wanted(compound="rapid", adhesive=BARRIER.id, primer=CATALOGUE.primer.id)
    chosen, slips = with_wanted(catalogue=CATALOGUE, wanted=wanted)
    assert slips == ()
    assert chosen.compound == RAPID
    assert chosen.adhesive == replace(BARRIER, trowels=())
    assert chosen.product_ids() == tuple(
        {"levelling-compound": "rapid", "wood-adhesive": BARRIER.id}.get(id, id)
        for id in starter.catalogue().product_ids()
    )


def test_a_notch_has_its_own_coverage_and_film() -> None:
    wanted = Wanted(adhesive=BARRIER.id, trowel="1/4 in square")
    chosen, slips = with_wanted(catalogue=CATALOGUE, wanted=wanted)
    assert slips == ()
    assert (chosen.adhesive.coverage_m2_per_l, chosen.adhesive.film_m) == (0.9, 0.0025)


def test_what_the_catalogue_lacks_is_named_with_what_it_has() -> None:
    wanted = Wanted(compound="slow", adhesive=BARRIER.id, trowel="1/2 in")
    _, slips = with_wanted(catalogue=CATALOGUE, wanted=wanted)
    assert dict(slips) == {
        "compound": "the catalogue has no compound 'slow'; it has 'levelling-compound', 'rapid'",
        "trowel": "the adhesive 'wood-adhesive-barrier' has no trowel '1/2 in'; it has '3/16 in V', "
        "'1/4 in square'",
    }
    _, none = with_wanted(catalogue=CATALOGUE, wanted=Wanted(trowel="1/2 in"))
    assert none == (
        ("trowel", "the adhesive 'wood-adhesive' has no trowel '1/2 in'; it has none, so leave this out"),
    )
