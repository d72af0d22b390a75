"""Ways between places of a firm."""

from dataclasses import replace

from slab_core.schedule.firm.arrays import travel_of
from slab_core.schedule.firm.model import Crew, Firm, Site
from tests.support.firms import week


def _firm(travel: dict[tuple[str, str], int]) -> Firm:
    return Firm(crews=(), machines=(), sites=(Site(id="s"), Site(id="t")), jobs=(), travel=travel)


def test_between_sites_that_are_not_listed_together_the_way_leads_over_the_yard() -> None:
    minutes = travel_of(_firm({("", "s"): 20, ("", "t"): 15}))
    assert minutes.tolist() == [[0, 35, 20], [35, 0, 15], [20, 15, 0]]


def test_a_way_back_that_is_listed_is_another_one() -> None:
    minutes = travel_of(_firm({("", "s"): 20, ("s", ""): 30, ("", "t"): 15}))
    assert minutes.tolist() == [[0, 45, 30], [35, 0, 15], [20, 15, 0]]


def test_a_site_that_no_way_names_is_at_the_yard() -> None:
    assert travel_of(_firm({("", "s"): 20})).tolist() == [[0, 20, 20], [20, 0, 0], [20, 0, 0]]


def test_a_home_is_a_place_before_the_yard_from_which_the_way_leads_over_others() -> None:
    crew = Crew(id="a", people=1, skills=frozenset(), calendar=week(), home="far")
    firm = replace(_firm({("", "s"): 20, ("", "t"): 15, ("far", "t"): 5}), crews=(crew, crew))
    assert firm.places() == ("s", "t", "far", "")
    assert travel_of(firm)[2].tolist() == [40, 5, 0, 20]
