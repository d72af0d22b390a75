"""An amount of money with its currency."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from slab_core.money.currencies import is_code
from slab_core.money.rounding import EXACT, Rounding, round_to


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """A decimal amount and the code of its currency. Two currencies never mix."""

    amount: Decimal
    currency: str

    def __post_init__(self) -> None:
        if not self.amount.is_finite():
            raise ValueError(f"{self.amount} is not an amount of money")
        if not is_code(self.currency):
            raise ValueError(
                f"{self.currency!r} is not a currency code of three capital letters, such as USD"
            )

    def plus(self, other: Money) -> Money:
        """The exact sum of two amounts of one currency.

        Raises
        ------
        ValueError
            when the currencies differ.
        """
        if other.currency != self.currency:
            raise ValueError(f"{self.currency} and {other.currency} cannot be added")
        return Money(amount=EXACT.add(self.amount, other.amount), currency=self.currency)

    def rounded(self, *, digits: int, rounding: Rounding) -> Money:
        """The same with exactly `digits` decimal places."""
        amount = round_to(amount=self.amount, digits=digits, rounding=rounding)
        return Money(amount=amount, currency=self.currency)

    def to_json(self) -> dict[str, str]:
        """Strings only, so that no reader turns the amount into a binary float."""
        return {"amount": f"{self.amount:f}", "currency": self.currency}


def from_json(*, data: dict[str, str]) -> Money:
    """The amount back from its JSON form.

    Raises
    ------
    ValueError
        when a member is missing, is not a string, or is not a plain decimal number.
    """
    amount, currency = data.get("amount"), data.get("currency")
    if not isinstance(amount, str) or not isinstance(currency, str):
        raise ValueError('money is {"amount": "123.45", "currency": "USD"}, both as strings')
    try:
        return Money(amount=Decimal(amount), currency=currency)
    except InvalidOperation:
        raise ValueError(f"{amount!r} is not a decimal number such as 123.45") from None
