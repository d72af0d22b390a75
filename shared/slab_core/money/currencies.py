"""How many decimal digits a currency has."""

# ISO 4217 minor units that are not 2, from memory: check against the standard's own list.
_DIGITS = {
    **dict.fromkeys(
        ("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND", "VUV"), 0
    ),
    **dict.fromkeys(("XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
    **dict.fromkeys(("CLF", "UYW"), 4),
}


def is_code(text: str) -> bool:
    """Whether the text has the form of a currency code: three capital letters."""
    return len(text) == 3 and text.isascii() and text.isalpha() and text.isupper()


def digits_of(*, currency: str) -> int:
    """Decimal digits of a currency, 2 for every code that the list does not name.

    Raises
    ------
    ValueError
        when the code is not three capital letters.
    """
    if not is_code(currency):
        raise ValueError(f"{currency!r} is not a currency code of three capital letters, such as USD")
    return _DIGITS.get(currency, 2)
