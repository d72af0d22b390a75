"""Schemathesis against the committed contract: every operation, with good and bad requests of all kinds."""

import json
from pathlib import Path

import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import positive_data_acceptance

from tests.support.api import Firm

CONTRACT = Path(__file__).parents[2] / "openapi" / "openapi.json"
# 428 (RFC 6585) is the status that If-Match has of its own for being left out.
_MISSING = {"expected-statuses": [400, 401, 403, 406, 415, 422, 428]}
_CONFIG = SchemathesisConfig.from_dict({"checks": {"missing_required_header": _MISSING}})
_SCHEMA = schemathesis.openapi.from_dict(json.loads(CONTRACT.read_text()), config=_CONFIG)
# All checks but one: a document may be of the right form and still describe a room that cannot be.
_EXCLUDED = [positive_data_acceptance]
pytestmark = pytest.mark.long


@pytest.mark.filterwarnings("default")  # its own, of the library and of the client inside it
@_SCHEMA.parametrize()
@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
def test_every_operation_answers_as_documented(firm: Firm, case: schemathesis.Case) -> None:
    base = str(firm.client.base_url)
    headers = {"Authorization": f"Bearer {firm.key}"}
    case.call_and_validate(base_url=base, headers=headers, excluded_checks=_EXCLUDED)
