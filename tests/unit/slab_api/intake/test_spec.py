"""Posted tolerances as the core's rules."""

import json

import pytest

from slab_api.intake.flatness import read_tolerance
from slab_api.intake.reader import Reader
from slab_api.schemas.units import UnitsDocument
from slab_api.schemas.wanted import ToleranceDocument
from slab_core.tolerance.classes import BY_CODE
from slab_core.tolerance.model import ToleranceSpec


def _read(posted: dict[str, object]) -> tuple[ToleranceSpec, Reader]:
    reader = Reader(units=UnitsDocument(length="ft"))
    document = ToleranceDocument.model_validate_json(json.dumps(posted))
    return read_tolerance(document, reader=reader), reader


@pytest.mark.parametrize("code", sorted(code for code, one in BY_CODE.items() if one.rules))
def test_every_class_of_edges_gives_its_rules_by_name(code: str) -> None:
    spec, reader = _read({"flatness_class": code})
    assert reader.faults == []
    assert spec.rules == BY_CODE[code].rules


def test_own_rules_come_after_those_of_the_class() -> None:
    spec, reader = _read(
        {"flatness_class": "din-18202-row-3", "rules": [{"length": "2 ft", "gap": "1/32 in"}]}
    )
    assert reader.faults == []
    assert [rule.length_m for rule in spec.rules[-3:]] == pytest.approx([10.0, 15.0, 0.6096])
    assert spec.rules[-1].of_class is None


@pytest.mark.parametrize("posted", [{}, {"flatness_class": "as flat as can be"}])
def test_no_rule_at_all_is_a_fault(posted: dict[str, object]) -> None:
    _, reader = _read(posted)
    assert len(reader.faults) == 1


def test_a_class_of_f_numbers_gives_them_with_the_least_local_ones_and_its_source() -> None:
    spec, reader = _read(
        {"flatness_class": "concrete-flat-f-numbers", "rules": [{"length": "10 ft", "gap": "1/4 in"}]}
    )
    assert reader.faults == []
    assert spec.f_numbers == (35, 25)
    assert spec.f_numbers_class is not None
    assert spec.f_numbers_class.local == pytest.approx((21.0, 15.0))
    assert "ACI 117-10" in spec.f_numbers_class.of_class.source


def test_f_numbers_need_an_edge_to_plan_by_and_are_asked_for_once() -> None:
    _, reader = _read({"flatness_class": "concrete-flat-f-numbers", "f_numbers": [35, 25]})
    assert [fault.pointer for fault in reader.faults] == ["/tolerance/rules", "/tolerance/f_numbers"]
