"""What may be done at doorways that the floor does not meet."""

from typing import Annotated

from pydantic import Field

from slab_api.schemas.base import Document, Length

Hours = Annotated[float, Field(ge=0, le=1000, description="Person-hours for each doorway.")]


class RampRuleDocument(Document):
    """No more than `gap` of departure from a straightedge of `length`, on a ramp and around it."""

    length: Length
    gap: Length


class DoorwaysDocument(Document):
    """Ways to meet a threshold beside bringing the whole floor to it; the cheapest is taken, and the
    correction's `doorways` say what each doorway got and why. Absent values are common practice, no single
    source.

    `ramps`: near the doorway the slab rises or falls to it, over `least_ramp` to `greatest_ramp` and by no
    more than `ramp_slope`, under `ramp_rule` instead of the floor's rules. `transitions`: another strip takes
    `transition_takes` more on either side of the threshold's range. `cuts`: the door is cut, so that the
    floor may lie `cut_takes` higher. `transition_price` is weighed and never a price of the quote.
    """

    ramps: bool = True
    transitions: bool = True
    cuts: bool = True
    least_ramp: Length | None = None
    greatest_ramp: Length | None = None
    ramp_slope: Annotated[float, Field(gt=0, le=0.1, description="Rise over length.")] | None = None
    ramp_rule: RampRuleDocument | None = None
    ramp_hours: Hours | None = None
    transition_takes: Length | None = None
    transition_hours: Hours | None = None
    transition_price: Annotated[float, Field(ge=0, le=1e6)] | None = None
    cut_takes: Length | None = None
    cut_hours: Hours | None = None
