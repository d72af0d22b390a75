"""The JSON Schema of the answer where the next board goes."""

from slab_api.contract_parts import TEXT, Schema, maybe, record
from slab_api.results.describe import describe
from slab_core.layout.next_board import Placing


def next_board_schemas(into: dict[str, Schema]) -> dict[str, Schema]:
    """The answer, whose placing is described by the core's own model."""
    return {
        "NextBoard": record(
            "Where the board goes.",
            {
                "floor": {**TEXT, "description": "Id of the floor."},
                "placing": maybe(
                    {**describe(Placing, into=into), "description": "Null: set the board aside."}
                ),
                "reason": {**TEXT, "description": "Why, in words for the crew."},
            },
        )
    }
