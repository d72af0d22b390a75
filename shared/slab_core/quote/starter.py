"""The price book a firm starts with. Every figure is invented as a plausible one, from memory, to be replaced
by the firm's own before a quote leaves the house."""

from datetime import date
from decimal import Decimal

from slab_core.money.currencies import digits_of
from slab_core.money.rounding import round_to
from slab_core.quote.model import Price, PriceBook

VERSION = "starter-1"

_MATERIAL = (
    ("levelling-compound", "bag", "38.00"),
    ("patch", "bag", "47.00"),
    ("acrylic-primer", "jug", "46.00"),
    ("wood-adhesive", "pail", "168.00"),
    ("wood-adhesive-barrier", "pail", "245.00"),
    ("engineered-plank", "carton", "135.00"),
    ("t-molding", "stick", "41.00"),
    ("reducer", "stick", "43.00"),
    ("threshold", "stick", "45.00"),
    ("base", "stick", "27.00"),
    ("quarter-round", "stick", "6.50"),
    ("trim-adhesive", "tube", "8.50"),
    ("sealant", "tube", "9.00"),
    ("tack-strip", "stick", "1.40"),
    ("patch-compound", "bag", "17.00"),
    ("screed-pin", "box", "34.00"),
    ("dam-strip", "roll", "18.00"),
    ("moisture-probe", "each", "42.00"),
    ("grinding-segments", "set", "165.00"),
    ("cup-wheel", "each", "85.00"),
    ("vacuum-bag", "each", "9.50"),
    ("vacuum-filter", "each", "110.00"),
    ("containment-sheet", "roll", "48.00"),
    ("masonry-blade", "each", "58.00"),
    ("blue-tape", "roll", "9.00"),
    ("trowel", "each", "14.00"),
    ("adhesive-wipes", "tub", "32.00"),
)
_EQUIPMENT = (
    ("floor-grinder", "mh", "28.00"),
    ("hand-grinder", "mh", "7.00"),
    ("vacuum", "mh", "9.00"),
    ("mixing-station", "day", "55.00"),
    ("masonry-saw", "mh", "22.00"),
    ("floor-strap", "each", "3.50"),
    ("trip", "each", "35.00"),
)
_OTHER = (("labour", "PH", "52.00", "labour"), ("disposal-kg", "kg", "0.32", "disposal"))


def price_book(currency: str = "USD") -> PriceBook:
    """Starter prices of everything a takeoff from the starter catalogue asks for.

    The figures are the same in any currency, rounded to its digits: only US dollars were in mind.
    """
    digits = digits_of(currency=currency)
    rows = (
        *((code, unit, amount, "material") for code, unit, amount in _MATERIAL),
        *((code, unit, amount, "equipment") for code, unit, amount in _EQUIPMENT),
        *_OTHER,
    )
    return PriceBook(
        version=VERSION,
        currency=currency,
        valid_from=date(2020, 1, 1),
        valid_to=date(2099, 12, 31),
        prices=tuple(_price(code, unit, amount, tax_class, digits) for code, unit, amount, tax_class in rows),
        overhead_share=Decimal("0.12"),
        profit_kind="markup",
        profit_share=Decimal("0.15"),
        minimum_charge=Decimal("950"),
        tax_rates={
            "material": Decimal("0.07"),
            "labour": Decimal("0"),
            "equipment": Decimal("0"),
            "disposal": Decimal("0"),
        },
        digits=digits,
        job_discount_share=Decimal("0.1"),
    )


def _price(code: str, unit: str, amount: str, tax_class: str, digits: int) -> Price:
    figure = Decimal(amount)
    places = max(digits, 2) if figure < 1 else digits
    rounded = round_to(amount=figure, digits=places, rounding="half-up")
    return Price(code=code, amount=rounded, unit=unit, tax_class=tax_class)
