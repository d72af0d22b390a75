"""Posted moisture of boards as the core's model."""

import json

import pytest

from slab_api.intake.reader import Reader
from slab_api.intake.spec import read_site
from slab_api.schemas.site import SiteDocument
from slab_api.schemas.units import UnitsDocument
from slab_core.takeoff.model import Site, WoodMoisture


def _read(wood: dict[str, object] | None) -> tuple[Site, Reader]:
    reader = Reader(units=UnitsDocument(length="ft"))
    document = SiteDocument.model_validate_json(json.dumps({"wood": wood}))
    return read_site(document, reader=reader), reader


def test_what_was_measured_reaches_the_core() -> None:
    posted = {
        "species": "red-oak",
        "board_percent": 8.5,
        "subfloor_percent": 10,
        "lived_humidity": [0.2, 0.6],
    }
    site, reader = _read(posted)
    assert reader.faults == []
    assert site.wood == WoodMoisture(
        species="red-oak", board_percent=8.5, subfloor_percent=10, lived_humidity=(0.2, 0.6)
    )
    assert _read(None)[0].wood is None


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"species": "balsa"}, "species"),
        ({"species": "jarrah", "quartersawn": True}, "quartersawn"),
        ({"lived_humidity": [0.6, 0.2]}, "lived_humidity"),
    ],
)
def test_what_cannot_be_is_a_fault_at_its_field(wrong: dict[str, object], field: str) -> None:
    _, reader = _read({"species": "red-oak", "board_percent": 8.5, **wrong})
    assert [fault.pointer for fault in reader.faults] == [f"/site/wood/{field}"]
