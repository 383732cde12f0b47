"""A floor's size is said in metres, and a unit in which no floor can be so large is told."""

from __future__ import annotations

import pytest

from regmap.outputs.summary import Summary, quantity
from regmap.units import UNITS_MM, size_in_words
from tests.fit_examples import make_fit


@pytest.mark.parametrize("unit", UNITS_MM)
def test_the_same_floor_in_any_unit(unit: str) -> None:
    """12 m by 9 m with a room of 5 m, spelled in each unit."""
    width, height, room = (length / (UNITS_MM[unit] / 1000) for length in (12.0, 9.0, 5.0))
    assert size_in_words(width, height, room, unit) == "12 x 9 m"


@pytest.mark.parametrize(
    ("given", "said", "word"),
    [("m", "mm", "SMALL"), ("cm", "mm", "SMALL"), ("mm", "m", "LARGE"), ("mm", "ft", "LARGE")],
)
def test_a_unit_that_cannot_be_is_told(given: str, said: str, word: str) -> None:
    width, height, room = (length / (UNITS_MM[given] / 1000) for length in (12.0, 9.0, 5.0))
    words = size_in_words(width, height, room, said)
    assert "e+" not in words
    assert f"TOO {word} FOR A FLOOR" in words
    assert f"hardly in {said}; say their unit" in words


def test_units_that_are_not_known_are_taken_as_they_are() -> None:
    assert size_in_words(240.0, 180.0, 100.0, "cells") == "240 x 180 cells"


def test_a_summary_says_how_large_the_floor_is() -> None:
    """The outlines of the example reach over 7000 x 4500 mm."""
    assert dict(Summary.of(make_fit()).figures)["floor"] == "7 x 4.5 m"
    assert "TOO LARGE" in dict(Summary.of(make_fit(unit="m")).figures)["floor"]


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (41.3, "mm", "41 mm"),
        (7.26, "mm", "7.3 mm"),
        (0.0, "mm", "0.0 mm"),
        (0.0176, "mm", "0.018 mm"),
        (0.0176, "m", "0.0176 m"),
    ],
)
def test_lengths_keep_the_digits_that_say_something(value: float, unit: str, words: str) -> None:
    assert quantity(value, unit) == words


@pytest.mark.parametrize(("sure", "said"), [(0.9749, "0.97"), (0.995, "0.99"), (0.29, "0.29")])
def test_a_confidence_is_never_rounded_up_and_said_alike_twice(sure: float, said: str) -> None:
    share = f"{said.removeprefix('0.')} in 100 are right"
    assert Summary.of(make_fit(confidence=sure)).confidence.startswith(f"{said} (of the fits")
    assert share in Summary.of(make_fit(confidence=sure)).confidence
