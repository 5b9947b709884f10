"""Numbers as callers have them (int, float, Decimal, Fraction, numpy's) as Python's own.

The formulas are called with figures from forms, tables and other people's code. What is not
one number is refused here with a sentence, and not further down with somebody else's traceback.
"""

from __future__ import annotations

from typing import SupportsFloat


def number(value: SupportsFloat | str, what: str) -> float:
    """Return one number as a float. Raises ValueError, naming ``what`` it should have been."""
    try:
        return float(value)
    except (TypeError, ValueError):
        raise ValueError(f"{what} is one number, not {value!r}.") from None


def whole_number(value: SupportsFloat | str, what: str) -> int:
    """Return one whole number as an int, 45.0 too. Raises ValueError for any other."""
    as_float = number(value, what)
    if not as_float.is_integer():
        raise ValueError(f"{what} is a whole number, not {value}.")
    return int(as_float)
