"""What only uses a stored fit never loads OpenCV, rasterio or SciPy, and works without them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from regmap import areas
from regmap.outputs import control_points
from tests.fit_examples import make_fit

BLOCKED = """
import sys
class Wall:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {blocked}:
            raise ModuleNotFoundError("No module named " + repr(name), name=name)
sys.meta_path.insert(0, Wall())
"""


def _run(code: str, blocked: set[str], *arguments: str) -> str:
    ran = subprocess.run(
        [sys.executable, "-c", BLOCKED.format(blocked=blocked) + code, *arguments],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parent.parent,
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.strip()


def test_stored_fit_is_used_with_numpy_and_affine_alone(tmp_path: Path) -> None:
    make_fit().save(tmp_path / "fit.json")
    code = """
import regmap
fit = regmap.Registration.load(sys.argv[1])
fit.to_image(fit.to_device([[1, 2]])); fit.expected_error([[1, 2]]); fit.control_points(4)
fit.save(sys.argv[1], overwrite=True)
import regmap.frames, regmap.errors, regmap.accuracy
loaded = {name.split('.')[0] for name in sys.modules}
print(sorted(loaded & {'cv2', 'scipy', 'rasterio', 'shapely'}))
"""
    blocked = {"cv2", "scipy", "rasterio", "shapely"}
    assert _run(code, blocked, str(tmp_path / "fit.json")) == "[]"


def test_areas_and_pairs_need_shapely_besides_and_nothing_else(tmp_path: Path) -> None:
    """The answers are those of this process, in which everything is there."""
    make_fit().save(tmp_path / "fit.json")
    code = """
before = set(sys.modules)
import json, regmap
from regmap import areas
from regmap.outputs import control_points, geojson
fit = regmap.Registration.load(sys.argv[1])
zone = areas.to_device(fit, (60, 230, 110, 260), keep_off="expected")
boxes = areas.rectangles(zone.geometry).boxes
control_points.to_yaml(fit); control_points.to_csv(fit)
geojson.rooms(fit); areas.to_image(fit, boxes[:, :2]); areas.room_at(fit, (90, 240))
others = {name.split('.')[0] for name in set(sys.modules) - before} - sys.stdlib_module_names
print(json.dumps([sorted(others), zone.geometry.wkt, boxes.tolist(), control_points.to_json(fit)]))
"""
    found = json.loads(_run(code, {"cv2", "scipy", "rasterio"}, str(tmp_path / "fit.json")))
    # affine brings attrs with it, from its version 3 on; Cython's modules are those of numpy and
    # shapely.
    others = {name for name in found[0] if "cython" not in name}
    assert others - {"attr", "attrs"} == {"regmap", "numpy", "affine", "shapely"}
    zone = areas.to_device(make_fit(), (60, 230, 110, 260), keep_off="expected")
    boxes = areas.rectangles(zone.geometry).boxes.tolist()
    assert found[1:] == [zone.geometry.wkt, boxes, control_points.to_json(make_fit())]


def test_the_command_marks_areas_without_the_rest(tmp_path: Path) -> None:
    make_fit().save(tmp_path / "fit.json")
    code = """
from regmap.cli import main
main(["area", sys.argv[1], "--rectangle", "60", "230", "110", "260"])
"""
    said = _run(code, {"cv2", "scipy", "rasterio"}, str(tmp_path / "fit.json"))
    assert "no safety barrier" in said


def test_captures_are_read_without_the_rest() -> None:
    code = """
import regmap
text = '{"rooms": {"a": [[0, 0], [4000, 0], [4000, 3000]], "b": [[4100, 0], [6000, 0], [6000, 9]]}}'
print(sorted(regmap.parse_outlines(text)))
"""
    assert _run(code, {"cv2", "scipy", "rasterio"}) == "['a', 'b']"


def test_second_mapping_runs_need_scipy_but_no_pictures() -> None:
    """SciPy publishes wheels where OpenCV and rasterio publish none."""
    code = """
import numpy as np, regmap
rooms = {"a": [[0, 0], [4000, 0], [4000, 3000], [0, 3000]],
         "b": [[4100, 0], [9000, 0], [9000, 2000], [4100, 2000]],
         "c": [[0, 3100], [3000, 3100], [3000, 7000], [1500, 8000], [0, 7000]]}
moved = {name: np.array(ring) @ [[0, 1], [-1, 0]] + [500, -700] for name, ring in rooms.items()}
change = regmap.align_outlines(rooms, moved)
print(np.abs(change.to_new([[100, 200]]) - [[300, -600]]).max() < 1)
"""
    assert _run(code, {"cv2", "rasterio"}) == "True"


def test_a_fit_shows_its_figures_where_it_cannot_be_drawn(tmp_path: Path) -> None:
    make_fit().save(tmp_path / "fit.json")
    code = """
import regmap
text = regmap.Registration.load(sys.argv[1])._repr_html_()
print("reprojection error" in text, "<img" in text)
"""
    assert _run(code, {"cv2", "rasterio"}, str(tmp_path / "fit.json")) == "True False"


def test_what_needs_the_rest_says_what_is_missing_and_what_to_do() -> None:
    code = """
import regmap
try:
    regmap.register
except ModuleNotFoundError as error:
    print(error.name, error)
"""
    assert _run(code, {"cv2"}).startswith("cv2 regmap.register needs cv2, which is not installed")
    code = """
from regmap.cli import main
try:
    main(["identify", "a.png", "house"])
except SystemExit as end:
    print(end.code)
"""
    assert _run(code, {"cv2", "scipy", "rasterio"}) == "1"


def test_other_commands_do_what_they_can_without_the_rest(tmp_path: Path) -> None:
    make_fit().save(tmp_path / "fit.json")
    code = """
from regmap.cli import main
def run(*words):
    assert not main.main(list(words), standalone_mode=False), words
fit, place = sys.argv[1:]
zones = place + "/zones.geojson"
run("area", fit, "--rectangle", "60", "230", "110", "260", "--out", zones)
run("rectangles", zones, "--fit", "cover")
run("locate", fit, "--pixel", "60", "230")
run("hand-over", fit, "--out", place + "/out")
"""
    blocked = {"cv2", "scipy", "rasterio"}
    said = _run(code, blocked, str(tmp_path / "fit.json"), str(tmp_path))
    assert "left out world-file: rasterio is not installed here" in said
    assert "rooms.geojson" in {path.name for path in (tmp_path / "out").iterdir()}
