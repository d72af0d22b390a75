"""The two-peg check of a level."""

from typing import Annotated

from pydantic import Field

from slab_api.schemas.base import Document, Length


class PegReadingsDocument(Document):
    """From one stand of the level: the rod on each peg, and how far away each peg is."""

    rod_a: Length
    rod_b: Length
    distance_a: Length
    distance_b: Length


class PegTestDocument(Document):
    """A two-peg check: from the middle between two pegs, and from near one of them, 20 m or more from the
    other. What it finds is taken off every rod reading whose distance is known."""

    instrument: Annotated[
        str | None,
        Field(
            max_length=64, description="Of the setups that it counts for; absent: of all without their own."
        ),
    ] = None
    middle: PegReadingsDocument
    near: PegReadingsDocument
    sd: Annotated[
        Length | None, Field(description="Standard deviation of one rod reading; else the setups'.")
    ] = None
