"""Posting a whole job."""

from slab_app.codec import Encoded, decode
from slab_core.job import Job
from tests.support.api import Firm, Service, valid_job


def test_a_whole_job_is_queued_with_all_its_steps(firm: Firm) -> None:
    answer = firm.post("/v1/estimates", valid_job())
    assert answer.status_code == 202, answer.text
    estimate = answer.json()
    assert answer.headers["location"] == f"/v1/estimates/{estimate['id']}"
    assert estimate["state"] == "queued"
    assert [step["stage"] for step in estimate["steps"]][:3] == ["rooms", "surveys", "surface"]
    assert firm.client.get(answer.headers["location"]).json() == estimate


def test_what_is_stored_is_the_job_in_metres(service: Service, firm: Firm) -> None:
    id_ = firm.post("/v1/estimates", valid_job()).json()["id"]
    with service.database.for_organisation(firm.organisation) as uow:
        stored = uow.runs.input(run_id=id_)
        assert stored is not None
        job = decode(Job, Encoded(json=stored.json, arrays=stored.arrays))
    assert job.rooms[0].outline[1] == (14.5 * 0.3048, 0.0)
    assert job.rooms[0].openings[0].threshold is not None
    assert job.rooms[0].openings[0].threshold.low_m == 0.25 * 0.0254
    assert job.surveys[0].readings[0].value_m[0] == 46.3 * 0.0254
    assert job.surveys[0].readings[0].sd_m[0] == 0.0007
