"""Rounding against published vectors and by its own laws."""

import importlib.util
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slab_core.money.rounding import Rounding, add_up, from_float, round_ratio, round_to

# Operands and results of "General Decimal Arithmetic Testcases", (c) IBM Corporation 1981, 2008, files
# quantize.decTest 2.59 (half up) and rounding.decTest 2.59 (sums at five digits, so rounded to whole units),
# as shipped in the test package of CPython 3.11 under test/decimaltestdata.
HALF_UP = (
    ("2.17", 3, "2.170"),
    ("2.17", 2, "2.17"),
    ("2.17", 1, "2.2"),
    ("2.17", 0, "2"),
    ("1.2345", 2, "1.23"),
    ("1.2355", 2, "1.24"),
    ("9.9999", 2, "10.00"),
    ("0.009", 2, "0.01"),
    ("0.001", 2, "0.00"),
    ("1.05", 1, "1.1"),
    ("1.04", 1, "1.0"),
    ("-0.5", 1, "-0.5"),
    ("-0.078", 2, "-0.08"),
    ("-0.0078", 2, "-0.01"),
    ("352364.506", 2, "352364.51"),
    ("-352364.506", 2, "-352364.51"),
    ("217", -1, "2.2E+2"),
)
HALF_EVEN_SUMS = (
    ("12345", "0.499", "12345"),
    ("12345", "0.5", "12346"),
    ("12345", "0.50001", "12346"),
    ("12346", "0.5", "12346"),
    ("12346", "0.50001", "12347"),
    ("12345", "-0.1", "12345"),
)


@pytest.mark.parametrize(("operand", "digits", "result"), HALF_UP)
def test_half_up_gives_the_published_result(operand: str, digits: int, result: str) -> None:
    rounded = round_to(amount=Decimal(operand), digits=digits, rounding="half-up")
    assert str(rounded) == result
    assert round_ratio(value=Fraction(operand), digits=digits, rounding="half-up") == Decimal(result)


@pytest.mark.parametrize(("left", "right", "result"), HALF_EVEN_SUMS)
def test_half_even_gives_the_published_result(left: str, right: str, result: str) -> None:
    total = add_up(amounts=(Decimal(left), Decimal(right)))
    assert str(round_to(amount=total, digits=0, rounding="half-even")) == result
    assert round_ratio(value=Fraction(total), digits=0, rounding="half-even") == Decimal(result)


def _shipped_vectors() -> list[tuple[str, str, str, Rounding]]:
    spec = importlib.util.find_spec("test")
    places = list(spec.submodule_search_locations or ()) if spec else []
    path = Path(places[0], "decimaltestdata", "quantize.decTest") if places else Path("absent")
    if not path.is_file():
        pytest.skip("this interpreter has no test/decimaltestdata/quantize.decTest; the pinned subset ran")
    rule, vectors = "", []
    for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
        words = line.split()
        if len(words) >= 2 and words[0] == "rounding:":
            rule = words[1]
        elif (
            len(words) >= 6
            and words[1] == "quantize"
            and words[4] == "->"
            and rule in ("half_up", "half_even")
        ):
            vectors.append((words[2], words[3], words[5], rule.replace("_", "-")))
    return [v for v in vectors if _is_money(v)]  # type: ignore[misc]  # the rule was checked above


def _is_money(vector: tuple[str, str, str, str]) -> bool:
    """Not a number, infinities and results that overflow nine digits are no amounts of money."""
    texts = [text.strip("'").lower() for text in vector[:3]]
    return not any("nan" in t or "inf" in t or "#" in t or "?" in t for t in texts)


def test_every_finite_vector_shipped_with_the_interpreter_agrees() -> None:
    vectors, compared = _shipped_vectors(), 0
    for operand, step, result, rule in vectors:
        exponent = Decimal(step.strip("'")).as_tuple().exponent
        assert isinstance(exponent, int)
        if abs(exponent) > 30:
            continue  # steps at the edge of the number format are no money
        compared += 1
        ours = round_to(amount=Decimal(operand.strip("'")), digits=-exponent, rounding=rule)
        assert ours == Decimal(result.strip("'")), (operand, step)
        assert ours.as_tuple().exponent == exponent, (operand, step)
    assert compared > 300


@given(
    st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12),
    st.integers(0, 4),
    st.sampled_from(["half-up", "half-even"]),
)
def test_rounding_twice_changes_nothing_and_moves_at_most_half_a_step(
    amount: Decimal, digits: int, rounding: Rounding
) -> None:
    once = round_to(amount=amount, digits=digits, rounding=rounding)
    assert round_to(amount=once, digits=digits, rounding=rounding) == once
    assert abs(Fraction(once) - Fraction(amount)) * 2 * 10**digits <= 1
    assert round_ratio(value=Fraction(amount), digits=digits, rounding=rounding) == once


def test_a_tie_below_zero_goes_away_from_zero_or_to_the_even_digit() -> None:
    assert round_to(amount=Decimal("-0.125"), digits=2, rounding="half-up") == Decimal("-0.13")
    assert round_to(amount=Decimal("-0.125"), digits=2, rounding="half-even") == Decimal("-0.12")


def test_zero_never_carries_a_sign() -> None:
    assert str(round_to(amount=Decimal("-0.001"), digits=2, rounding="half-up")) == "0.00"


def test_an_infinite_amount_is_refused() -> None:
    with pytest.raises(ValueError, match="not an amount"):
        round_to(amount=Decimal("inf"), digits=2, rounding="half-up")
    with pytest.raises(ValueError, match="not an amount"):
        from_float(value=float("nan"), places=3)


def test_a_float_is_rounded_from_its_exact_value() -> None:
    # 2.675 is stored a little below itself, so it is no tie.
    assert from_float(value=2.675, places=2) == Decimal("2.67")
    assert from_float(value=0.1, places=6) == Decimal("0.100000")
    assert Decimal("2.675").quantize(Decimal("0.01"), ROUND_HALF_UP) == Decimal("2.68")


@given(
    st.lists(
        st.decimals(allow_nan=False, allow_infinity=False, places=4, min_value=-(10**15), max_value=10**15)
    )
)
def test_a_sum_is_the_same_in_any_order(amounts: list[Decimal]) -> None:
    assert add_up(amounts=tuple(amounts)) == add_up(amounts=tuple(reversed(amounts)))
    assert Fraction(add_up(amounts=tuple(amounts))) == sum((Fraction(a) for a in amounts), Fraction(0))
