"""JSON Schemas of closeouts and of what is learned from them."""

from slab_api.contract_parts import COUNT, ID, LINK, MOMENT, NUMBER, TEXT, Schema, many, maybe, record, ref
from slab_api.results.describe import describe, schema_name
from slab_core.closeout.model import Comparison, Learned, LearnedSlab, ProposedValue, SlabTold


def closeout_schemas(schemas: dict[str, Schema]) -> dict[str, Schema]:
    """All of them by name; what they are made of is added to `schemas`."""
    for model in (Comparison, Learned, LearnedSlab, ProposedValue, SlabTold):
        describe(model, into=schemas)
    line = {"key": TEXT, "code": TEXT, "kind": TEXT, "what": TEXT, "quantity": NUMBER, "unit": TEXT}
    proposal = ref(schema_name(ProposedValue))
    actual = record("What a line took.", {"key": TEXT, "quantity": NUMBER})
    return {
        "WorkLines": record(
            "What a crew can tell of, without money.",
            {"lines": many(record("A line.", line)), "materials": many(ref("JobMaterial"))},
        ),
        "Closeout": record(
            "What a job took beside its quote; it never changes.",
            {
                "id": ID,
                "quote_id": ID,
                "crew": TEXT,
                "finished_on": {"type": "string", "format": "date"},
                "created_at": MOMENT,
                "created_by": TEXT,
                "actuals": many(actual),
                "comparison": ref(schema_name(Comparison)),
                "slab": maybe(ref(schema_name(SlabTold))),
                "left_over": maybe(many(ref("LeftOver"))),
                "links": record("Where it belongs.", {"self": LINK, "quote": LINK}),
            },
        ),
        "LearnedRates": record(
            "What closed jobs say of the firm's figures. Nothing of it counts until the firm makes new "
            "versions: `rates` and `catalogue` can be posted as they are, where they are not empty.",
            {
                "crew": maybe(TEXT),
                "jobs": COUNT,
                "learned": many(ref(schema_name(Learned))),
                "proposed": many(proposal),
                "slabs": many(ref(schema_name(LearnedSlab))),
                "rates": {"type": "object", "description": "For POST /rates."},
                "catalogue": {"type": "object", "description": "For POST /catalogues."},
            },
        ),
    }
