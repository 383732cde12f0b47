"""`regmap area`, `rectangles`, `locate` and `hand-over` as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import shapely
from click.testing import CliRunner, Result

from regmap import floors
from regmap.cli import main, options
from regmap.cli.hand_over import FORMATS
from regmap.floors import Verification
from regmap.outputs import hand_over
from regmap.registration import Registration
from tests.fit_examples import make_fit

# By hand: x = 20 column - 1000, y = 6000 - 20 row.


def run(*arguments: object, stdin: str | None = None) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments], input=stdin)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder with a stored fit in `fit`, its picture, marks in px and a driven path."""
    (tmp_path / "fit").mkdir()
    make_fit().save(tmp_path / "fit" / "registration.json")
    cv2.imwrite(str(tmp_path / "floor.png"), np.full((480, 640, 3), 230, np.uint8))
    marks = [
        _feature("bench", [[60, 230], [110, 240], [105, 265], [55, 255]], keep_off="expected"),
        _feature("desk", [[200, 255], [300, 255], [300, 290], [200, 290]], rooms=["study"])
        | {"id": 7},
    ]
    collection = {"type": "FeatureCollection", "unit": "px", "features": marks}
    (tmp_path / "marks.geojson").write_text(json.dumps(collection))
    (tmp_path / "way.csv").write_text("x,y\n200,200\n2000,900\n4500,1800\n")
    return tmp_path


def _feature(name: str, ring: list[list[int]], **wishes: Any) -> dict[str, Any]:
    geometry = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    return {"type": "Feature", "properties": {"name": name, **wishes}, "geometry": geometry}


def _shapes(path: Path) -> dict[str, Any]:
    features = json.loads(path.read_text("utf-8"))["features"]
    return {f["properties"]["name"]: shapely.geometry.shape(f["geometry"]) for f in features}


def test_marks_are_placed_each_as_it_wishes(place: Path) -> None:
    stored = place / "zones.geojson"
    arguments = ("area", place / "fit", "--marks", place / "marks.geojson", "--off-walls", 50)
    ran = run(*arguments, "--out", stored)
    assert ran.exit_code == 0, ran.output
    for part in ("bench: Polygon in study", "grown by", "kept off walls by 50 mm", "wrote"):
        assert part in ran.output
    zones = _shapes(stored)
    margin = make_fit().expected_error([[60, 230], [110, 240], [105, 265], [55, 255]]).max()
    corners = [(200, 1400), (1200, 1200), (1100, 700), (100, 900)]
    grown = shapely.Polygon(corners).buffer(margin, join_style="mitre")
    study = shapely.Polygon(make_fit().outlines["study"][0], [make_fit().outlines["study"][1]])
    free = study.buffer(-50, join_style="mitre")
    assert zones["bench"].hausdorff_distance(grown.intersection(free)) < 1e-6
    # The desk's marks reach 1 m beyond the study: cut at its wall, 50 mm before it.
    assert zones["desk"].bounds == pytest.approx((3000, 200, 3950, 900))


def test_areas_are_drawn(place: Path) -> None:
    arguments = ("area", place / "fit", "--marks", place / "marks.geojson")
    drawn = place / "zones.png"
    ran = run(*arguments, "--picture", place / "floor.png", "--draw", drawn)
    assert ran.exit_code == 0, ran.output
    picture = cv2.imread(str(drawn))
    assert picture is not None
    assert picture.shape[1] > 640
    assert run(*arguments, "--draw", place / "b.png").exit_code == 2
    again = run(*arguments, "--picture", place / "floor.png", "--draw", drawn)
    assert again.exit_code == 1
    assert "there already" in again.stderr
    assert "--force" in again.stderr


def test_lines_names_and_what_leaves_the_floor(place: Path) -> None:
    shapes = ("--line", "60,260 110,260 110,265", "--point", 10, 10, "--name", "rug", "--name", "x")
    ran = run("area", place / "fit", *shapes, "--json")
    assert ran.exit_code == 0, ran.output
    rug, point = json.loads(ran.stdout)["areas"]
    assert (rug["name"], rug["kind"], rug["leaves_floor"]) == ("rug", "LineString", False)
    assert rug["rings"] == [[[200, 800], [1200, 800], [1200, 700]]]
    assert (point["name"], point["leaves_floor"], point["off_floor"]) == ("x", True, 1.0)
    said = run("area", place / "fit", *shapes).output
    assert said.count("LEAVES THE FLOOR") == 1
    twice = run("area", place / "fit", *shapes[:-1], "rug")
    assert twice.exit_code == 2
    assert "two areas are called 'rug'" in twice.stderr
    assert run("area", place / "fit", *shapes, "--name", "third").exit_code == 2


@pytest.mark.parametrize("corners", ["nan,1 2,2 3,3", "1,1 inf,2 3,3", "1,1 2,2 3", "a,b c,d e,f"])
@pytest.mark.parametrize("shape", ["--line", "--polygon"])
def test_corners_that_are_no_numbers(place: Path, shape: str, corners: str) -> None:
    ran = run("area", place / "fit", shape, corners)
    assert ran.exit_code == 2
    assert "is not understood" in ran.stderr


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--room", "attic"), "area 1: rooms are ['attic'], but they must be among"),
        (("--room", "hall"), "area 1: nothing of the area lies in hall"),
        (("--keep-off", "-9999"), "area 1: nothing is left of the area"),
        (("--off-walls", "-3"), "area 1: --off-walls is -3.0, but a number, not negative"),
        (("--keep-off", "nan"), "area 1: --keep-off is nan"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_written(
    place: Path, options: tuple[str, ...], says: str
) -> None:
    before = sorted(path.name for path in place.iterdir())
    out = place / "out.geojson"
    ran = run("area", place / "fit", "--rectangle", 60, 230, 110, 260, *options, "--out", out)
    assert ran.exit_code == 1, ran.output
    assert says in ran.stderr
    assert sorted(path.name for path in place.iterdir()) == before


def test_two_outputs_of_one_name_are_refused(place: Path) -> None:
    arguments = ("area", place / "fit", "--point", 70, 250, "--picture", place / "floor.png")
    ran = run(*arguments, "--out", place / "one", "--draw", place / "one")
    assert ran.exit_code == 2
    assert "named twice" in ran.stderr
    assert not (place / "one").exists()


def test_rectangles_of_stored_areas(place: Path) -> None:
    zones = place / "zones.geojson"
    assert (
        run("area", place / "fit", "--marks", place / "marks.geojson", "-o", zones).exit_code == 0
    )
    ran = run("rectangles", zones, "--fit", "cover", "--count", 3, "-o", place / "boxes.geojson")
    assert ran.exit_code == 0, ran.output
    assert "bench: 3 rectangles cover it and spill" in ran.output
    assert "desk: 1 rectangle covers it and spills 0.0 %" in ran.output
    boxes = _shapes(place / "boxes.geojson")
    assert list(boxes) == ["bench 1", "bench 2", "bench 3", "desk 1"]
    covered = shapely.union_all([boxes[f"bench {i}"] for i in (1, 2, 3)])
    assert covered.buffer(1e-6).covers(_shapes(zones)["bench"])
    for box in boxes.values():
        assert box.equals(shapely.box(*box.bounds))
    told = json.loads(
        run("rectangles", zones, "--fit", "inside", "--only", "desk", "--json").stdout
    )
    assert [area["name"] for area in told["areas"]] == ["desk"]
    assert told["areas"][0]["fill"] == pytest.approx(1.0)
    assert told["unit"] == "mm"
    on = ("--registration", place / "fit", "--picture", place / "floor.png")
    some = (zones, "--fit", "cover", "--only", "desk")
    ran = run("rectangles", *some, *on, "--draw", place / "boxes.png")
    assert ran.exit_code == 0, ran.output
    assert (place / "boxes.png").stat().st_size > 5000
    assert run("rectangles", zones, "--fit", "cover", *on).exit_code == 2


@pytest.mark.parametrize(
    ("options", "code", "says"),
    [
        (("--fit", "cover", "--only", "attic"), 1, "no area is called 'attic'"),
        (("--fit", "cover", "--count", "0"), 1, "--count is 0"),
        (("--fit", "around"), 2, "around"),
        ((), 2, "--fit"),
    ],
)
def test_rectangles_of_odd_input(
    place: Path, options: tuple[str, ...], code: int, says: str
) -> None:
    zones = place / "zones.geojson"
    run("area", place / "fit", "--rectangle", 60, 230, 110, 260, "-o", zones)
    ran = run("rectangles", zones, *options)
    assert ran.exit_code == code
    assert says in ran.stderr


def test_areas_in_the_wrong_frame_are_refused(place: Path) -> None:
    """Marks are px and stored areas device units: taking one for the other would move a robot."""
    zones = place / "zones.geojson"
    run("area", place / "fit", "--rectangle", 60, 230, 110, 260, "-o", zones)
    ran = run("area", place / "fit", "--marks", zones)
    assert ran.exit_code == 1
    assert "in mm" in ran.stderr
    ran = run("rectangles", place / "marks.geojson", "--fit", "cover")
    assert ran.exit_code == 1
    assert "in px" in ran.stderr


def test_places_either_way(place: Path) -> None:
    ran = run("locate", place / "fit", "--pixel", 60, 290, "--device", 4300, 1000, "--json")
    assert ran.exit_code == 0, ran.output
    first, second = json.loads(ran.stdout)["places"]
    assert (first["device"], first["room"]) == ([200, 200], "study")
    assert second["image"] == pytest.approx([265, 250])
    assert (second["room"], second["in_picture"]) == ("hall", True)
    error = make_fit().expected_error([[60, 290]])[0]
    assert first["expected_error_95"] == pytest.approx(error)
    far = run("locate", place / "fit", "--device", -90000, 0)
    assert "(no room) (outside the picture)" in far.output


def test_a_driven_path(place: Path) -> None:
    arguments = ("locate", place / "fit", "--path", place / "way.csv")
    ran = run(*arguments, "--picture", place / "floor.png", "--draw", place / "way.png")
    assert ran.exit_code == 0, ran.output
    assert len(ran.stdout.splitlines()) == 5
    assert (place / "way.png").stat().st_size > 5000
    told = run("locate", place / "fit", "--path", "-", "--json", stdin="[[200, 200], [4300, 1000]]")
    assert [p["room"] for p in json.loads(told.stdout)["places"]] == ["study", "hall"]
    assert run("locate", place / "fit").exit_code == 2
    broken = run("locate", place / "fit", "--path", "-", stdin="north\nsouth\n")
    assert broken.exit_code == 1
    assert broken.stderr.startswith("error: standard input: line 2 is 'south'")


def test_hand_over(place: Path) -> None:
    assert FORMATS == hand_over.FORMATS
    out = place / "for-others"
    ran = run("hand-over", place / "fit", "--picture", place / "floor.png", "--out", out, "--json")
    assert ran.exit_code == 0, ran.output
    told = json.loads(ran.stdout)
    assert sorted(told["files"]) == sorted(str(path) for path in out.iterdir())
    assert told["left_out"] == {}
    (out / "rooms.geojson").unlink()
    again = run("hand-over", place / "fit", "--picture", place / "floor.png", "--out", out)
    assert again.exit_code == 1
    assert "would be overwritten" in again.stderr
    assert not (out / "rooms.geojson").exists()
    some = run("hand-over", place / "fit", "--format", "pairs", "--points", 3, "--out", place / "p")
    assert some.exit_code == 0, some.output
    assert len(list((place / "p").iterdir())) == 4
    bare = run("hand-over", place / "fit", "--out", place / "bare")
    assert "left out geotiff" in bare.output
    assert (
        run("hand-over", place / "fit", "--format", "geotiff", "--out", place / "g").exit_code == 1
    )
    assert not (place / "g").exists()
    other = place / "other.png"
    cv2.imwrite(str(other), np.zeros((10, 10), np.uint8))
    wrong = run("hand-over", place / "fit", "--picture", other, "--out", place / "g",
                "--format", "geotiff")  # fmt: skip
    assert wrong.exit_code == 1
    assert "10 x 10 px" in wrong.stderr


def test_doubt_is_refused_everywhere_unless_accepted(place: Path) -> None:
    make_fit(confidence=0.5).save(place / "doubt.json")
    zones = place / "z.geojson"
    run("area", place / "fit", "--rectangle", 60, 230, 110, 260, "-o", zones)
    picture = ("--picture", place / "floor.png")
    for number, arguments in enumerate(
        [
            ("area", place / "doubt.json", "--point", 1, 2),
            ("locate", place / "doubt.json", "--pixel", 1, 2),
            ("hand-over", place / "doubt.json", "--out", place / "out"),
            (
                "rectangles",
                zones,
                "--fit",
                "cover",
                "--registration",
                place / "doubt.json",
                *picture,
                "--draw",
                place / "out.png",
            ),
        ]
    ):
        ran = run(*arguments)
        assert ran.exit_code == 3, (number, ran.output)
        assert "--accept-doubt" in ran.stderr
        assert run(*arguments, "--accept-doubt").exit_code == 0


def test_names_cannot_talk_to_the_terminal(place: Path) -> None:
    """A name out of a capture may hold what moves a cursor; half a surrogate pair, too."""
    room = make_fit().outlines["study"]
    names = ["a\x1b[31mb\r\nc", "k\udcfc"]
    make_fit(outlines=dict.fromkeys(names, room), rooms=()).save(place / "odd.json")
    ran = run("area", place / "odd.json", "--point", 70, 250)
    assert ran.exit_code == 0, ran.output
    assert "a\\x1b[31mb\\r\\nc" in ran.output
    assert "\x1b" not in ran.output
    told = run("area", place / "odd.json", "--point", 70, 250, "--json")
    assert set(json.loads(told.stdout)["areas"][0]["rooms"]) == set(names)


def test_progress_is_seen_on_a_terminal_alone(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for terminal in (False, True):
        monkeypatch.setattr("sys.stderr.isatty", lambda there=terminal: there)
        for length in (1, 3):
            with options.progress(length, "working") as step:
                for _ in range(length):
                    step(1)
            told = capsys.readouterr()
            assert told.out == ""
            assert ("working" in told.err and "100%" in told.err) is (terminal and length == 3)


def test_what_was_marked_beside_the_picture_is_told(place: Path) -> None:
    """The picture has 640 x 480 px: a mark that was made in one of twice the size leaves it."""
    ran = run("area", place / "fit", "--rectangle", 700, 100, 800, 200)
    assert ran.exit_code == 0
    assert "LEAVES THE PICTURE, which has 640 columns and 480 rows" in ran.output
    told = json.loads(run("area", place / "fit", "--rectangle", 60, 100, 640, 200, "--json").stdout)
    assert told["areas"][0]["in_picture"] is True
    inside = run("area", place / "fit", "--rectangle", 60, 100, 640, 200)
    assert "LEAVES THE PICTURE" not in inside.output


def test_a_picture_of_another_size_is_neither_drawn_on_nor_handed_out(place: Path) -> None:
    other = place / "other.png"
    cv2.imwrite(str(other), np.full((960, 1280, 3), 230, np.uint8))
    said = "the picture is 1280 x 960 px, but the fit was made with one of 640 x 480 px"
    drawing = ("--picture", other, "--draw", place / "z.png")
    for command in (
        ("area", place / "fit", "--rectangle", 60, 230, 110, 265, *drawing),
        ("locate", place / "fit", "--path", place / "way.csv", *drawing),
        ("hand-over", place / "fit", "--picture", other, "--out", place / "for-others"),
    ):
        ran = run(*command)
        assert ran.exit_code == 1, ran.output
        assert said in ran.stderr
    assert not (place / "z.png").exists()
    assert not (place / "for-others").exists()


def test_areas_come_from_standard_input_as_from_a_file(place: Path) -> None:
    stored = place / "zones.geojson"
    run("area", place / "fit", "--rectangle", 60, 230, 110, 265, "--out", stored)
    file = run("rectangles", stored, "--fit", "cover")
    piped = run("rectangles", "-", "--fit", "cover", stdin=stored.read_text("utf-8"))
    assert file.exit_code == 0, file.output
    assert piped.stdout == file.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("locate", "floor.png", "--pixel", 1, 2), "no text at all, such as a picture: give what"),
        (("locate", "way.csv", "--pixel", 1, 2), "damaged, or no JSON file"),
        (("locate", "marks.geojson", "--pixel", 1, 2), "this is no stored registration"),
        (("verify", "floor.png", "fit"), "no text at all, such as a picture: give what"),
        (("rectangles", "fit", "--fit", "cover"), "fit is a folder: give the name of a file"),
    ],
)
def test_one_file_in_the_place_of_another_is_named(
    place: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[object, ...], said: str
) -> None:
    monkeypatch.chdir(place)
    ran = run(*arguments)
    assert ran.exit_code == 1
    assert said in ran.stderr


def test_a_picture_on_which_the_fit_does_not_hold_is_told(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One of the same size, on which the map was panned by 40 px: nothing but a look tells."""
    asked: list[float] = []

    def stand_in(fit: Registration, image: Any) -> Verification:
        moved = float(image.mean() < 200)
        asked.append(moved)
        why = ("the map has moved in the picture",) * bool(moved)
        return Verification(not moved, 0, 0, 0, 0, 1, 0.9, (), why, fit, "mm")

    monkeypatch.setattr(floors, "verify", stand_in)
    cv2.imwrite(str(place / "panned.png"), np.full((480, 640, 3), 170, np.uint8))
    for number, command in enumerate(
        (
            ("area", place / "fit", "--point", 100, 250, "--draw", place / "{}.png"),
            ("locate", place / "fit", "--path", place / "way.csv", "--draw", place / "{}.png"),
            ("hand-over", place / "fit", "--out", place / "{}"),
        )
    ):
        for name, said in (("floor", False), ("panned", True)):
            words = [str(word).format(f"{name}{number}") for word in command]
            ran = run(*words, "--picture", place / f"{name}.png")
            assert ran.exit_code == 0, ran.output
            told = "panned.png: give its own picture, or register this one" in ran.stderr
            assert told is ("has moved in the picture" in ran.stderr) is said
    assert len(asked) == 6
