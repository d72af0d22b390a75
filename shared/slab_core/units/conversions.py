"""Areas, volumes, masses, temperatures and coverages between metric and US customary units.

The foot (0.3048 m), the US gallon (231 in³) and the avoirdupois pound are exact by definition
(NIST Special Publication 811, appendix B; from memory).
"""

SQUARE_METRES_PER_SQUARE_FOOT = 0.09290304
CUBIC_METRES_PER_CUBIC_FOOT = 0.028316846592
LITRES_PER_US_GALLON = 3.785411784
LITRES_PER_US_QUART = LITRES_PER_US_GALLON / 4
CUBIC_METRES_PER_US_GALLON = LITRES_PER_US_GALLON / 1000
KILOGRAMS_PER_POUND = 0.45359237


def square_feet(square_metres: float) -> float:
    """m² as ft²."""
    return square_metres / SQUARE_METRES_PER_SQUARE_FOOT


def cubic_feet(cubic_metres: float) -> float:
    """m³ as ft³."""
    return cubic_metres / CUBIC_METRES_PER_CUBIC_FOOT


def us_gallons(litres: float) -> float:
    """Litres as US gallons."""
    return litres / LITRES_PER_US_GALLON


def pounds(kilograms: float) -> float:
    """kg as lb."""
    return kilograms / KILOGRAMS_PER_POUND


def celsius(fahrenheit: float) -> float:
    """°F as °C."""
    return (fahrenheit - 32.0) / 1.8


def fahrenheit(celsius: float) -> float:
    """°C as °F."""
    return celsius * 1.8 + 32.0


def square_metres_per_litre(square_feet_per_gallon: float) -> float:
    """A coverage in ft² per US gallon as m² per litre."""
    return square_feet_per_gallon * SQUARE_METRES_PER_SQUARE_FOOT / LITRES_PER_US_GALLON


def square_feet_per_gallon(square_metres_per_litre: float) -> float:
    """A coverage in m² per litre as ft² per US gallon."""
    return square_metres_per_litre * LITRES_PER_US_GALLON / SQUARE_METRES_PER_SQUARE_FOOT
