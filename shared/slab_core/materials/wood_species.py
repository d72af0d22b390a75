"""How far the wood of common floor species moves with its moisture.

Coefficients are changes of a dimension as a share, for each percent of moisture between 6 and 14: USDA Wood
Handbook (FPL-GTR-190), table 13-5, read in a copy; those without a radial one from a list of the wood
flooring trade, read second-hand. One list prints 0.00365 for red oak; the Handbook has 0.00369.
"""

from dataclasses import dataclass

HANDBOOK = "USDA Wood Handbook, FPL-GTR-190, table 13-5"
TRADE_LIST = "a list of the wood flooring trade, read second-hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class Species:
    """`tangential` is for plainsawn boards, `radial` for quartersawn ones, None where none was read."""

    name: str
    radial: float | None
    tangential: float
    source: str


def _handbook(name: str, radial: float, tangential: float) -> Species:
    return Species(name=name, radial=radial, tangential=tangential, source=HANDBOOK)


def _listed(name: str, tangential: float) -> Species:
    return Species(name=name, radial=None, tangential=tangential, source=TRADE_LIST)


SPECIES: tuple[Species, ...] = (
    _handbook("white-oak", 0.00180, 0.00365),
    _handbook("red-oak", 0.00158, 0.00369),
    _handbook("hard-maple", 0.00165, 0.00353),
    _handbook("red-maple", 0.00137, 0.00289),
    _handbook("ash", 0.00169, 0.00274),
    _handbook("beech", 0.00190, 0.00431),
    _handbook("birch", 0.00256, 0.00338),
    _handbook("black-cherry", 0.00126, 0.00248),
    _handbook("black-walnut", 0.00190, 0.00274),
    _handbook("pecan-hickory", 0.00169, 0.00315),
    _listed("true-hickory", 0.00411),
    _listed("jarrah", 0.00396),
    _listed("brazilian-cherry", 0.00300),
    _listed("douglas-fir", 0.00267),
    _listed("southern-yellow-pine", 0.00265),
    _listed("heart-pine", 0.00263),
    _listed("santos-mahogany", 0.00238),
    _listed("teak", 0.00186),
)
BY_NAME = {species.name: species for species in SPECIES}
