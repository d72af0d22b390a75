"""The many ways to write the same length, brought to one: plain digits, ' and ", / and -."""

import unicodedata

_PRIMES = dict.fromkeys("′’‘´`ʹ＇", "'") | dict.fromkeys("″”“„ʺ˝＂", '"')
_DASHES = dict.fromkeys("−–—‐‑‒", "-")
_OTHER = {"⁄": "/", "∕": "/", "µ": "u", "μ": "u"}
_PLAIN = str.maketrans(_PRIMES | _DASHES | _OTHER)


def plain(text: str) -> str:
    """The text with customary signs and vulgar fractions spelt in ASCII and single spaces."""
    spelt = "".join(_fraction(character) for character in text).translate(_PLAIN)
    return " ".join(spelt.replace("''", '"').split())


def _fraction(character: str) -> str:
    """½ as " 1/2": the space keeps 12½ from becoming 121/2."""
    if not unicodedata.name(character, "").startswith("VULGAR FRACTION"):
        return character
    return " " + unicodedata.normalize("NFKC", character)
