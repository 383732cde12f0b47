"""Numbers with marks between their thousands, and numbers that only look so."""

from __future__ import annotations

import pytest

from regmap.inputs.captures import parse_outlines
from tests.test_captures import same

Ring = list[tuple[float, float]]
ROOMS: dict[str, Ring] = {
    "loom": [(-1200, 350), (5800, 350), (5800, 12400), (-1200, 12400)],
    "dye vats": [(6000, 350), (1011000, 350), (1011000, 4100), (6000, 4100)],
}
MARKS = ["'", "\u2019", "\u202f", "\u00a0", " ", ","]
FORMS = ["{x} / {y}; ", "({x} | {y}) ", "[{x}/{y}], ", "({x} mm | {y} mm); "]


def _grouped(value: float, mark: str, fraction: str = "") -> str:
    return f"{value:,.0f}".replace(",", mark) + fraction


def _written(form: str, mark: str, fraction: str = "") -> str:
    lines = []
    for name, ring in ROOMS.items():
        told = [[_grouped(v, mark, fraction) for v in point] for point in ring]
        lines.append(f"{name}: " + "".join(form.format(x=x, y=y) for x, y in told).strip(" ;,"))
    return "\n".join(lines)


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("form", FORMS)
def test_marks_between_thousands(form: str, mark: str) -> None:
    assert same(parse_outlines(_written(form, mark)), ROOMS), _written(form, mark)


@pytest.mark.parametrize(
    ("mark", "fraction"), [(".", ",0"), (",", ".0"), (" ", ",00"), ("'", ".0")]
)
def test_marks_between_thousands_and_a_fraction(mark: str, fraction: str) -> None:
    assert same(parse_outlines(_written(FORMS[1], mark, fraction)), ROOMS)


@pytest.mark.parametrize("mark", [",", "."])
def test_a_mark_before_three_digits_of_every_number_is_a_decimal_one(mark: str) -> None:
    metres = {name: [(x / 1000, y / 1000) for x, y in ring] for name, ring in ROOMS.items()}
    lines = [
        f"{name}: " + "; ".join(f"{x:.3f} / {y:.3f}".replace(".", mark) for x, y in ring)
        for name, ring in metres.items()
    ]
    assert same(parse_outlines("\n".join(lines)), metres)


def test_pairs_of_short_numbers_stay_what_they_are() -> None:
    small = {
        "loom": [(1.0, 234.0), (5.0, 234.0), (5.0, 900.0), (1.0, 900.0)],
        "dye vats": [(6.0, 234.0), (9.0, 234.0), (9.0, 900.0), (6.0, 900.0)],
    }
    lines = [f"{n}: " + "|".join(f"{x:.0f},{y:.0f}" for x, y in r) for n, r in small.items()]
    assert same(parse_outlines("\n".join(lines)), small)
