"""Who may do what."""

import pytest
from fastapi.routing import APIRoute

from slab_api.app import all_routes, bare_app
from slab_api.call import Needs
from slab_api.offer_call import answers_offer, reads_offer
from slab_app.keys import parse_key
from slab_app.scopes import SCOPES
from slab_base.clock import now_utc
from tests.support.api import Firm, Service, valid_job
from tests.support.problems import code_of

_ROUTES = [r for r in all_routes(bare_app(base_url="http://x")) if isinstance(r, APIRoute)]
_BY_LINK = ("/v1/offers/", "/v1/crew-feeds/")
_OPEN = {"/livez", "/readyz", "/docs", "/openapi.json", "/problems/{code}"}


@pytest.mark.parametrize("route", _ROUTES, ids=lambda route: f"{sorted(route.methods)[0]} {route.path}")
def test_every_route_needs_a_key_with_a_scope_that_there_is_or_a_link(
    service: Service, route: APIRoute
) -> None:
    calls = [d.call for d in route.dependant.dependencies]
    needs = [call for call in calls if isinstance(call, Needs)]
    if route.path.startswith(_BY_LINK):
        assert needs == []
        assert set(calls) <= {reads_offer, answers_offer}
        with service.client() as stranger:
            answer = stranger.request(sorted(route.methods)[0], route.path.format(link="offer_guess"))
        assert code_of(answer) == "not-found"
        return
    if route.path in _OPEN:
        assert needs == []
        return
    assert len(needs) == 1
    assert needs[0].scope in SCOPES
    some = "01890a5d-ac96-774b-bcce-b302099a8057"
    path = route.path.format(id=some, scan=some, n=1)
    with service.client() as stranger:
        answer = stranger.request(sorted(route.methods)[0], path)
    assert code_of(answer) == "unauthenticated"
    assert answer.headers["www-authenticate"].startswith("Bearer")


def test_all_routes_were_looked_at() -> None:
    paths = {route.path for route in _ROUTES}
    assert len(_ROUTES) > 40
    assert paths >= _OPEN | {"/v1/estimates", "/v1/rooms/{id}", "/v1/estimates/{id}/quote"}


def test_a_mistyped_wrong_or_foreign_key_is_refused_without_saying_which(
    service: Service, firm: Firm
) -> None:
    other = service.firm()
    mine, theirs = parse_key(firm.key), parse_key(other.key)
    assert mine is not None
    assert theirs is not None
    mixed = type(mine)(organisation=mine.organisation, key_id=mine.key_id, secret=theirs.secret).text()
    unknown = type(mine)(organisation=mine.organisation, key_id="aaaaaaaa", secret=mine.secret).text()
    details = set()
    for key in (mixed, unknown):
        with service.client(key) as client:
            answer = client.get("/v1/jobs")
            assert code_of(answer) == "unauthenticated"
            assert mine.secret not in answer.text
            details.add(answer.json()["detail"])
    assert len(details) == 1
    with service.client(firm.key[:-1] + ("a" if firm.key[-1] != "a" else "b")) as client:
        assert code_of(client.get("/v1/jobs")) == "unauthenticated"


def test_a_revoked_or_expired_key_opens_nothing(service: Service, firm: Firm) -> None:
    for end in ("revoke", "expire"):
        with service.key(firm.organisation, "office") as client:
            assert client.get("/v1/jobs").status_code == 200
            key = parse_key(client.headers["authorization"].removeprefix("Bearer "))
            assert key is not None
            with service.database.for_organisation(firm.organisation) as uow:
                if end == "revoke":
                    uow.keys.revoke(key_id=key.key_id, now=now_utc())
                else:
                    uow.keys.expire(key_id=key.key_id, at=now_utc())
                uow.commit()
            assert code_of(client.get("/v1/jobs")) == "unauthenticated"


def test_a_field_device_uploads_and_sees_no_prices(service: Service, firm: Firm) -> None:
    job = firm.post("/v1/jobs", _record()).json()["id"]
    survey = firm.post(f"/v1/jobs/{job}/surveys", {}).json()["id"]
    with service.key(firm.organisation, "field-device") as device:
        chunk = {"x": [1], "y": [1], "value": [0.1]}
        assert device.put(f"/v1/surveys/{survey}/chunks/1", json=chunk).status_code == 200
        for path in ("/v1/jobs", "/v1/estimates", "/v1/price-books"):
            assert code_of(device.get(path)) == "forbidden"


def test_a_crew_lead_reads_but_does_not_post_estimates(service: Service, firm: Firm) -> None:
    with service.key(firm.organisation, "crew-lead") as lead:
        assert lead.get("/v1/estimates").status_code == 200
        answer = lead.post("/v1/estimates", json=valid_job(), headers={"idempotency-key": "k"})
    assert code_of(answer) == "forbidden"
    assert firm.client.get("/v1/estimates").json()["items"] == []


def test_the_use_of_a_key_is_noted(service: Service, firm: Firm) -> None:
    firm.client.get("/v1/jobs")
    with service.database.for_organisation(firm.organisation) as uow:
        assert all(key.last_used_at is not None for key in uow.keys.list())


def test_writes_carry_the_key_and_the_trace_id_of_the_request(firm: Firm) -> None:
    trace = "0af7651916cd43dd8448eb211c80319c"
    answer = firm.post("/v1/estimates", valid_job(), traceparent=f"00-{trace}-b7ad6b7169203331-01")
    assert answer.headers["trace-id"] == answer.json()["trace_id"] == trace
    key = parse_key(firm.key)
    assert key is not None
    assert answer.json()["posted_by"] == f"key:{key.key_id}"


def _record() -> dict[str, object]:
    job = valid_job()
    return {name: job[name] for name in ("name", "units", "benchmarks", "tolerance")}
