"""The core's names of places in the client's words."""

import pytest

from slab_api.intake.places import client_pointer


@pytest.mark.parametrize(
    ("core", "client"),
    [
        ("/rooms/0/outline/3", "/rooms/0/outline/3"),
        ("/rooms/0/openings/2/start", "/rooms/0/openings/2/from"),
        ("/rooms/0/openings/2/end/1", "/rooms/0/openings/2/to/1"),
        ("/rooms/0/openings/2/threshold/low_m", "/rooms/0/openings/2/threshold/height"),
        ("/rooms/0/joints/1/start", "/rooms/0/joints/1/from"),
        ("/rooms/0/joints/1/end/1", "/rooms/0/joints/1/to/1"),
        ("/surveys/1/readings/0/value_m/17", "/surveys/1/readings/0/value/17"),
        ("/surveys/1/gaps/0/x0_m", "/surveys/1/gaps/0/x0"),
        ("/surveys/1/lines/4/start", "/surveys/1/lines/4/from"),
        ("/surveys/1/sights/4/rod_m", "/surveys/1/sights/4/rod"),
        ("/benchmarks/0/elevation_m", "/benchmarks/0/elevation"),
        ("", ""),
    ],
)
def test_a_pointer_leads_into_what_was_posted(core: str, client: str) -> None:
    assert client_pointer(core) == client
