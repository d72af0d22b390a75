"""The inch, foot and gallon sizes that the trade's rates of thumb are stated in, in SI."""

INCH_M = 0.0254
FOOT_M = 0.3048
FOOT2_M2 = FOOT_M**2
FOOT3_M3 = FOOT_M**3
GALLON_L = 3.785411784
POUND_KG = 0.45359237

FOOT2_PER_GALLON = FOOT2_M2 / GALLON_L
"""One ft²/US gal in m²/L."""
