"""How many decimal digits a currency has."""

from babel.numbers import get_currency_precision


def is_code(text: str) -> bool:
    """Whether the text has the form of a currency code: three capital letters."""
    return len(text) == 3 and text.isascii() and text.isalpha() and text.isupper()


def digits_of(*, currency: str) -> int:
    """Decimal digits of a currency as people use it, by the Unicode Consortium's locale data (CLDR); 2 for a
    code that it does not name.

    Raises
    ------
    ValueError
        when the code is not three capital letters.
    """
    if not is_code(currency):
        raise ValueError(f"{currency!r} is not a currency code of three capital letters, such as USD")
    return int(get_currency_precision(currency))
