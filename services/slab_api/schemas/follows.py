"""Which earlier plan work has followed so far, when a job is measured again while it goes on."""

from typing import Annotated

from pydantic import AwareDatetime, Field

from slab_api.schemas.base import ClientId, Document
from slab_core.stages import ALTERNATES, PLANE
from slab_core.takeoff.codes import TASKS


class FollowsDocument(Document):
    """The estimate whose plan was followed. What of it is done stands in the `after` of surveys.

    Readings inside work that was done after they were taken are left out. The plan, takeoff, schedule and
    quote are then those of what is left, and the correction's `progress` tells of each area what was planned,
    what is reached and what is left.
    """

    estimate: ClientId
    alternate: Annotated[
        str,
        Field(description="Whose plan was followed.", json_schema_extra={"enum": list(ALTERNATES)}),
    ] = PLANE
    keep_heights: Annotated[
        bool,
        Field(
            description="Whether what is left goes on to the heights of that plan, as where its pins are "
            "set. Without, and before anything is poured, a new plan is taken where it costs less."
        ),
    ] = True
    last_pour_at: Annotated[
        AwareDatetime | None,
        Field(
            description="When the last pour ended, with its offset from UTC: what is left waits for it to "
            "dry. Absent: it counts as just poured when work goes on."
        ),
    ] = None
    done: Annotated[
        tuple[str, ...],
        Field(
            max_length=len(TASKS),
            description="Kinds of work of the whole job that are done too, by their codes in the takeoff. "
            "Furniture out, containment, base off, tear-out and the survey always are; grinding to a bonding "
            "profile is once anything is poured.",
            json_schema_extra={"items": {"type": "string", "enum": [task.code for task in TASKS]}},
        ),
    ] = ()
