"""Wood and the air around it: the moisture it comes to, and how far boards would move if they were free.

Equilibrium moisture: USDA Wood Handbook (FPL-GTR-282, 2021), chapter 4, equation 4-5, its constants read in a
public note that quotes page 4-3. The Handbook says that a tenth of a percent means nothing in practice.
Movement: the same book, chapter 13, for 6 to 14 % moisture.
"""


def equilibrium_percent(*, temperature_c: float, humidity: float) -> float:
    """Moisture, in percent of dry mass, that wood comes to in air of this temperature and humidity (0..1)."""
    t = temperature_c
    return _equation_4_5(
        humidity,
        w=349 + 1.29 * t + 0.0135 * t**2,
        k=0.805 + 0.000736 * t - 0.00000273 * t**2,
        k1=6.27 - 0.00938 * t - 0.000303 * t**2,
        k2=1.91 + 0.0407 * t - 0.000293 * t**2,
    )


def equilibrium_percent_fahrenheit(*, temperature_f: float, humidity: float) -> float:
    """The same by the Handbook's own constants for °F, which differ by up to 0.1 from those for °C."""
    t = temperature_f
    return _equation_4_5(
        humidity,
        w=330 + 0.452 * t + 0.00415 * t**2,
        k=0.791 + 0.000463 * t - 0.000000844 * t**2,
        k1=6.34 + 0.000775 * t - 0.0000935 * t**2,
        k2=1.09 + 0.0284 * t - 0.0000904 * t**2,
    )


def _equation_4_5(h: float, *, w: float, k: float, k1: float, k2: float) -> float:
    kh, first, second = k * h, k1 * k * h, k1 * k2 * k**2 * h**2
    return 1800 / w * (kh / (1 - kh) + (first + 2 * second) / (1 + first + second))


def free_movement_m(*, width_m: float, coefficient: float, from_percent: float, to_percent: float) -> float:
    """How much wider a board across its grain gets, if nothing holds it; negative where it shrinks."""
    return width_m * coefficient * (to_percent - from_percent)


def coefficient_of(*, shrinkage_percent: float) -> float:
    """Coefficient from the total shrinkage, green to dry: C = S / (3000 - 20 S), chapter 13."""
    return shrinkage_percent / (3000 - 20 * shrinkage_percent)
