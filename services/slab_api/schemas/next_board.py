"""The question where the next board goes."""

from typing import Annotated

from pydantic import ConfigDict, Field

from slab_api.schemas.base import Document, Length
from slab_api.schemas.units import UnitsDocument

_MOST_RUNS, _MOST_PIECES, _MOST_ROWS, _MOST_LENGTHS = 5000, 500, 20, 50


class LaidRunDocument(Document):
    """What lies in one run of a row, from its start on; a row that an obstacle parts has several runs."""

    row: Annotated[int, Field(ge=1, le=100_000, description="As in the layout; rows count from 1.")]
    run: Annotated[int, Field(ge=1, le=1000, description="As in the layout's `runs`.")] = 1
    lengths: Annotated[
        list[Length],
        Field(max_length=_MOST_PIECES, description="Of the pieces as they were laid, from the run's start."),
    ]


class BoardDocument(Document):
    """A board or offcut in hand. An end that was cut goes to a wall."""

    length: Length
    whole_start: Annotated[bool, Field(description="The end towards a run's start was not cut.")] = True
    whole_end: Annotated[bool, Field(description="The end towards a run's end was not cut.")] = True


class NextBoardRequest(Document):
    """A board, and what lies so far."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "units": {"length": "ft"},
                    "board": {"length": "4' 2\""},
                    "laid": [{"row": 1, "lengths": ["3' 6\"", "2' 8-1/2\""]}],
                }
            ]
        }
    )

    units: UnitsDocument = UnitsDocument()
    board: BoardDocument
    laid: Annotated[
        list[LaidRunDocument],
        Field(max_length=_MOST_RUNS, description="Every run that has a piece; the order does not matter."),
    ]
    bundle: Annotated[
        tuple[Length, ...],
        Field(
            max_length=_MOST_LENGTHS,
            description="Lengths that the boards at hand come in, where they are not those of the plan. "
            "Boards wait for better ones of these; without them they wait for lengths that never come.",
        ),
    ] = ()
    open_rows: Annotated[
        int,
        Field(
            ge=1, le=_MOST_ROWS, description="Rows, from the first unfinished one, that may be gone on with."
        ),
    ] = 4
