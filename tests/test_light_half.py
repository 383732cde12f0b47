"""What only uses a stored fit never loads OpenCV, rasterio or SciPy."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.fit_examples import make_fit

BLOCKED = """
import sys
class Wall:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {blocked}:
            raise ImportError(name + " is blocked")
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
from regmap.registration import Registration
fit = Registration.load(sys.argv[1])
fit.to_image(fit.to_device([[1, 2]])); fit.expected_error([[1, 2]]); fit.control_points(4)
fit.save(sys.argv[1], overwrite=True)
import regmap.frames, regmap.errors, regmap.accuracy
loaded = {name.split('.')[0] for name in sys.modules}
print(sorted(loaded & {'cv2', 'scipy', 'rasterio', 'shapely'}))
"""
    blocked = {"cv2", "scipy", "rasterio", "shapely"}
    assert _run(code, blocked, str(tmp_path / "fit.json")) == "[]"


def test_areas_and_pairs_need_shapely_besides(tmp_path: Path) -> None:
    make_fit().save(tmp_path / "fit.json")
    code = """
import regmap
from regmap import areas
from regmap.outputs import control_points, geojson
fit = regmap.Registration.load(sys.argv[1])
zone = areas.to_device(fit, (60, 230, 110, 260), keep_off="expected")
areas.rectangles(zone.geometry)
control_points.to_yaml(fit); control_points.to_csv(fit); control_points.to_json(fit)
geojson.rooms(fit)
"""
    _run(code, {"cv2", "scipy", "rasterio"}, str(tmp_path / "fit.json"))
