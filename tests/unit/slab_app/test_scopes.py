"""What keys may do."""

import pytest

from slab_app.scopes import ROLE_SCOPES, SCOPES, UnknownScope, check_scopes, granted


def test_an_office_key_may_do_everything() -> None:
    assert ROLE_SCOPES["office"] == set(SCOPES)


def test_a_key_can_be_given_fewer_scopes_but_never_more_than_its_role() -> None:
    assert granted(role="office", narrowed_to=("jobs:read",)) == {"jobs:read"}
    assert granted(role="field-device", narrowed_to=("firm:write",)) == frozenset()
    with pytest.raises(UnknownScope, match="firm:write"):
        check_scopes(role="field-device", scopes=("surveys:write", "firm:write"))


def test_a_field_device_sees_neither_prices_nor_estimates() -> None:
    assert not {
        scope
        for scope in ROLE_SCOPES["field-device"]
        if scope.split(":")[0] in ("firm", "quotes", "estimates")
    }
