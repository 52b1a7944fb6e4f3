"""Whole numbers out of forms and addresses."""

from __future__ import annotations

import pytest

from classroom.whole import whole_number


@pytest.mark.parametrize(("text", "number"), [("0", 0), ("7", 7), ("007", 7), ("9" * 17, 10**17 - 1)])
def test_plain_digits_are_a_number(text: str, number: int) -> None:
    assert whole_number(text) == number


@pytest.mark.parametrize(
    "text", ["", "-1", "+1", "1.0", " 1", "²", "٣", "1_000", "9" * 18, "9" * 5000, "NaN"]
)
def test_anything_else_is_none_however_long(text: str) -> None:
    assert whole_number(text) is None
