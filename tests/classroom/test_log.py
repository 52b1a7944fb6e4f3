"""The log names errors and places, never what they quote."""

from __future__ import annotations

import logging
import sys

from classroom.log import NamelessFormatter


def logged(raise_it) -> str:
    try:
        raise_it()
    except Exception:
        record = logging.LogRecord("classroom", logging.ERROR, __file__, 1, "failed", (), sys.exc_info())
    return NamelessFormatter("{message}", style="{").format(record)


def convert() -> None:
    int("".join(["Mi", "a"]))


def convert_and_wrap() -> None:
    try:
        convert()
    except ValueError as error:
        raise LookupError("No" + "ah") from error


def test_an_errors_message_is_left_out():
    text = logged(convert)
    assert "builtins.ValueError" in text
    assert "in convert" in text
    assert "Mia" not in text


def test_causes_are_told_first_and_without_their_messages():
    text = logged(convert_and_wrap)
    assert text.index("builtins.ValueError") < text.index("builtins.LookupError")
    assert "Mia" not in text
    assert "Noah" not in text


def test_a_line_without_an_error_is_just_the_line():
    record = logging.LogRecord("classroom", logging.INFO, __file__, 1, "ready", (), None)
    assert NamelessFormatter("{message}", style="{").format(record) == "ready"
