"""What a product may do to those who work with it, as its safety data sheet says."""

from typing import Literal

Hazard = Literal["wet-cement", "isocyanates", "epoxy"]
