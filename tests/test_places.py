"""Driven paths and single places out of text."""

from __future__ import annotations

import pytest

from regmap.errors import RegmapError
from regmap.inputs.places import parse_places

WAY = [[1.0, 2.5], [-3e3, 4.0], [5.0, 6.0]]


@pytest.mark.parametrize(
    "text",
    [
        "1,2.5\n-3e3,4\n5,6\n",
        "x,y\r\n1,2.5\r\n-3000,4\r\n5,6",
        "\ufeff x ; y ; time\n\n1;2.5;09:12\n-3000;4;09:13\n5;6;\n",
        "1 2.5\n-3000\t4\n  5   6",
        "time x y\n7 1 2.5\n8 -3000 4\n9 5 6",
        "y_mm,heading,x_mm,index\n2.5,90,1,0\n4,91,-3000,1\n6,92,5,2",
        "x [mm];y [mm]\n1,0;2,5\n-3000;4\n5;6",
        "[[1, 2.5], [-3000, 4], [5, 6]]",
        '{"type": "LineString", "coordinates": [[1, 2.5], [-3000, 4], [5, 6]]}',
        '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {}, '
        '"geometry": {"type": "LineString", "coordinates": [[1, 2.5], [-3000, 4], [5, 6]]}}]}',
        '{"type": "Feature", "properties": {}, "geometry": '
        '{"type": "MultiPoint", "coordinates": [[1, 2.5], [-3000, 4], [5, 6]]}}',
    ],
)
def test_one_way_in_many_spellings(text: str) -> None:
    assert parse_places(text).tolist() == WAY
    assert parse_places(text.encode("utf-8")).tolist() == WAY


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "at least one"),
        ("x,y\n", "line 1 is 'x,y'"),
        ("1,2\nnorth,3\n", "line 2 is 'north,3'"),
        ("1,2\n3\n", "line 2 is '3'"),
        ("1,nan\n", "finite"),
        ("time,heading,index\n1,2,3\n", "of more than two columns one must be called x"),
        ("time,x1,x2,y\n1,2,3,4\n", "'time,x1,x2,y', but"),
        ("1,5 2,5\n", "line 1 is '1,5 2,5'"),
        ('{"type": "FeatureCollection", "features": []}', "no GeoJSON of one geometry"),
        ("[[1, 2, 3]]", "pairs"),
        ("[]", "at least one"),
        ("{}", "no GeoJSON"),
        ('{"type": "Polygon"}', "no GeoJSON"),
        ("[[1, 2", "no JSON pairs"),
        (b"\xff\xfe1", "no UTF-8"),
    ],
)
def test_what_is_no_way_is_refused(text: str | bytes, says: str) -> None:
    with pytest.raises(RegmapError, match=says):
        parse_places(text)


def test_how_long_a_text_may_be_is_said_in_a_unit() -> None:
    with pytest.raises(RegmapError, match=r"longer than 16 MiB: cut the path into parts"):
        parse_places("1,2\n" * (2**22 + 1))
    assert len(parse_places("1,2\n" * 1000)) == 1000
