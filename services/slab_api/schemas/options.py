"""What is chosen for one estimate and not for its job."""

from datetime import date
from typing import Annotated

from pydantic import AwareDatetime, Field

from slab_api.schemas.base import Document, Label, Length, Place
from slab_api.schemas.doorways import DoorwaysDocument
from slab_core.stages import ALTERNATES, PLANE, Basis

MOST_ALTERNATES = 6
LEAST_CONFIDENCE, MOST_CONFIDENCE = 0.5, 0.99
_ALTERNATES = (
    "plane: one plane of any slope; level: one level plane; grind-only: one plane, and nothing is filled; "
    "fill-only: one plane, and nothing is ground; cheapest: no one plane, but trowelled, poured and ground "
    "where each costs least. Each is the cheapest that there is."
)


class LevelPlaceDocument(Document):
    """A place that a level slab runs through: a place in the plan, or the middle of a room's opening."""

    at: Place | None = None
    room: Label | None = None
    opening: Label | None = None
    height: Annotated[
        Length | None,
        Field(
            description="Of the slab under the boards, above the datum; absent: the height that the slab has "
            "there now."
        ),
    ] = None


class PlacingErrorsDocument(Document):
    """How far the firm's own crews are off: standard deviations; absent ones are common practice.

    `screeded`: the height of a pin. `ground` and `patched`: a spot as a whole. `free`: a pour that finds its
    own level. `ripple`: what lies on all of them. `gauge`: what an edge with a taper gauge tells to.
    """

    screeded: Length | None = None
    ground: Length | None = None
    patched: Length | None = None
    free: Length | None = None
    ripple: Length | None = None
    gauge: Length | None = None


class OptionsDocument(Document):
    """What is fixed when the estimate is posted; absent values are chosen then and shown in the result."""

    basis: Annotated[
        Basis,
        Field(
            description="allowance: before anybody has seen the slab; the estimate then takes no surveys, "
            "allows for bags and grinding as slabs under such a floor and of such an age usually take, and "
            "its one alternate is `allowance`. `alternates` then says what the slab is to be corrected to: "
            "`plane`, or `cheapest`, for which bags are a share of a plane's by the rule of flatness (an "
            "estimate from invented slabs)."
        ),
    ] = "surveyed"
    seed: Annotated[
        int | None,
        Field(ge=0, le=2**53 - 1, description="Of whatever is drawn at random; absent: always the same."),
    ] = None
    pricing_date: date | None = None
    earliest_start: Annotated[AwareDatetime, Field(description="With its offset from UTC.")] | None = None
    grid_step: Annotated[
        Length | None,
        Field(description="How finely surfaces are drawn: 20 mm to 0.5 m, six steps or more in every edge."),
    ] = None
    alternates: Annotated[
        tuple[str, ...],
        Field(
            description="Corrections to work out and price side by side; the first is the main one, which "
            "results are given of when none is named. One that cannot be done leaves the others alone, "
            "unless it is the main one. " + _ALTERNATES,
            json_schema_extra={
                "items": {"type": "string", "enum": list(ALTERNATES)},
                "minItems": 1,
                "maxItems": MOST_ALTERNATES,
                "uniqueItems": True,
            },
        ),
    ] = (PLANE,)
    level_through: Annotated[
        tuple[LevelPlaceDocument, ...],
        Field(
            max_length=100,
            description="What the alternate `level` is level with; of several places on a floor the highest "
            "counts. Absent: whichever height costs least.",
        ),
    ] = ()
    lower_bound: Annotated[
        bool,
        Field(
            description="Whether corrections also say what the cheapest heights of all would cost, whatever "
            "can be placed: `unrestricted`, which `workability` is then counted from. Takes some seconds for "
            "each floor."
        ),
    ] = False
    confidence: Annotated[
        float | None,
        Field(
            ge=LEAST_CONFIDENCE,
            le=MOST_CONFIDENCE,
            description="How surely the whole floor shall pass all its rules together, those of ramps too, "
            "survey and crew erring. Corrections are then planned to a share of the gaps and finished with "
            "the edge as often as that takes at least cost, and say so in `assurance`, with the price of 95 "
            "over 80 %. Takes ten seconds or so for each floor and alternate, fifteen for `cheapest`, a few "
            "times as long where ramps are weighed.",
        ),
    ] = None
    placing_errors: Annotated[
        PlacingErrorsDocument | None, Field(description="Goes with `confidence` alone.")
    ] = None
    doorways: Annotated[
        DoorwaysDocument | None,
        Field(
            description="Absent: every threshold is met by the floor itself, or the estimate is refused. "
            "With `confidence` ramps keep their own rule so surely too. In work that goes on, doorways stay "
            "as the plan that is followed left them, and these count where new heights are taken."
        ),
    ] = None
