"""A found sequence of points as an area, with all that is learnt of it on the way."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Polygon

from regmap.inputs.captures.find import Found

__all__ = ["Shape"]


@dataclass(slots=True, eq=False)
class Shape:
    """A found sequence as an area.

    Attributes:
        polygon: None if the points enclose no area, or cross each other.
        order: its place in the text.
        pattern: the path with "*" where outlines of one family differ; `own_key`: what stands
            there, `own_place` from the end; `sure`: others do differ there; `tail`: the last key
            that is not it; `wrapper`: what stands in place of "**".
        told: own keys differ in more than a number, as k16 and k17 do not.
        unended: the text seems to end within it.
        name: what it is called in the end.
    """

    found: Found
    polygon: Polygon | None
    order: int
    pattern: tuple[str, ...] = ()
    own_key: str | None = None
    own_place: int = -1
    sure: bool = False
    told: bool = True
    tail: str = ""
    wrapper: str | None = None
    unended: bool = False
    name: str = ""
    chosen: bool = False

    def matches(self, other: Shape) -> bool:
        """Whether two areas are mostly one: what both cover is half of what either covers."""
        if self.polygon is None or other.polygon is None:
            return False
        common = self.polygon.intersection(other.polygon).area
        return bool(common >= 0.5 * (self.polygon.area + other.polygon.area - common))

    def is_same(self, other: Shape) -> bool:
        """Whether two areas are one, corner by corner."""
        one, two = self.polygon, other.polygon
        return one is not None and two is not None and bool(one.equals(two))

    def overlaps(self, other: Polygon | None) -> bool:
        """Whether another area shares a tenth of the smaller one's ground."""
        if self.polygon is None or other is None or not self.polygon.intersects(other):
            return False
        common = self.polygon.intersection(other).area
        return bool(common > 0.1 * min(self.polygon.area, other.area))
