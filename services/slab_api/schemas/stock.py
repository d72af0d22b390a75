"""What an office says of the firm's store of materials."""

from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import ConfigDict, Field

from slab_api.schemas.base import Document, Name, NewId

_OPENED = "What opened packages hold, in thousandths at most: 0.5 is half of one."
_PRODUCT = "The product's id in the catalogue, or a job's covering by its product. A product that comes in "
MOST_PACKAGES = 100_000

Product = Annotated[Name, Field(description=f"{_PRODUCT}packages of another size is another product.")]
Packages = Annotated[int, Field(ge=0, le=MOST_PACKAGES, description="Unopened ones.")]
Opened = Annotated[Decimal, Field(strict=False, ge=0, le=1000, decimal_places=3, description=_OPENED)]
StockNote = Annotated[str, Field(max_length=500)]


class StockPost(Document):
    """Packages that came in by hand: unopened ones, opened ones, or both."""

    id: NewId = None
    product: Product
    covering: Annotated[
        bool,
        Field(description="Boards, which no catalogue lists; any other product is in the newest catalogue."),
    ] = False
    packages: Packages = 0
    opened: Opened = Decimal(0)
    use_by: Annotated[date | None, Field(description="The last day it may be used.")] = None
    note: StockNote = ""
    model_config = ConfigDict(
        json_schema_extra={
            "examples": [{"product": "levelling-compound", "packages": 3, "use_by": "2026-09-30"}]
        }
    )


class StockCorrection(Document):
    """What is more (above 0) or less there than the store says, and why."""

    packages: Annotated[int, Field(ge=-MOST_PACKAGES, le=MOST_PACKAGES)] = 0
    opened: Annotated[
        Decimal, Field(strict=False, ge=-1000, le=1000, decimal_places=3, description=_OPENED)
    ] = Decimal(0)
    note: Annotated[str, Field(min_length=1, max_length=500, description="Why.")]
    model_config = ConfigDict(json_schema_extra={"examples": [{"packages": -1, "note": "a bag got wet"}]})


class LeftOverDocument(Document):
    """What is really left of a product when the job is done."""

    product: Annotated[Name, Field(description="Of the quote's work lines (materials).")]
    packages: Packages = 0
    opened: Opened = Decimal(0)
    use_by: Annotated[date | None, Field(description="The last day it may be used.")] = None


def thousandths(opened: Decimal) -> int:
    """A share of a package as it is kept."""
    return int(opened * 1000)
