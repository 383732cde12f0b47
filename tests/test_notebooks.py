"""The notebooks run, and show what they should; a fit shows itself in one."""

from __future__ import annotations

import base64
import json
import re
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from notebooks.__main__ import HERE, NOTEBOOKS, execute
from regmap.errors import RegmapError
from regmap.outputs import notebook
from regmap.registration import RoomFit
from tests.fit_examples import UPRIGHT, make_fit

LARGEST_KB = 400


def _stored(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((HERE / f"{name}.ipynb").read_text("utf-8"))
    return found


def _code(cells: list[Any]) -> list[Any]:
    return [cell for cell in cells if cell["cell_type"] == "code"]


def test_there_are_four() -> None:
    assert len(NOTEBOOKS) == 4
    text = (HERE / "__init__.py").read_text("utf-8")
    assert all(name in text for name in NOTEBOOKS)


# What the kernel's client warns of is not ours.
@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("name", NOTEBOOKS)
def test_every_notebook_runs(name: str) -> None:
    """A cell that fails ends it with an error; the kinds of what it shows are those stored."""
    pytest.importorskip("nbclient", reason="pip install '.[notebooks]'")
    pytest.importorskip("ipykernel", reason="pip install '.[notebooks]'")
    ran, stored = _code(execute(name).cells), _code(_stored(name)["cells"])
    for now, then in zip(ran, stored, strict=True):
        assert _kinds(now) == _kinds(then), then["source"]


def _kinds(cell: Any) -> set[str]:
    kinds = set()
    for output in cell["outputs"]:
        assert output.get("name") != "stderr", output["text"]
        kinds |= set(output.get("data", {"stream": None}))
    return kinds


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_what_is_stored_is_small_and_whole(name: str) -> None:
    path = HERE / f"{name}.ipynb"
    assert path.stat().st_size < 1024 * LARGEST_KB
    cells = _code(_stored(name)["cells"])
    assert all(cell["execution_count"] == n for n, cell in enumerate(cells, start=1))
    assert not any(o["output_type"] == "error" for cell in cells for o in cell["outputs"])
    assert str(Path.home()) not in path.read_text("utf-8")


# --- how a fit shows itself ----------------------------------------------------------------------


def _drawing(text: str) -> np.ndarray:
    (coded,) = re.findall(r'src="data:image/png;base64,([^"]+)"', text)
    found = cv2.imdecode(np.frombuffer(base64.b64decode(coded), np.uint8), cv2.IMREAD_COLOR)
    assert found is not None
    return np.asarray(found[..., ::-1])


def test_a_fit_shows_figures_and_drawing() -> None:
    text = make_fit(transform=UPRIGHT)._repr_html_()
    for words in ("0.97", "predicted error", "reprojection error", "one wall lies outside"):
        assert words in text
    assert _drawing(text).shape[1] == 480


def test_a_doubtful_fit_says_so_first() -> None:
    text = make_fit(confidence=0.5, alternatives=(make_fit(),))._repr_html_()
    assert text.index("DOUBTFUL") < text.index("confidence")
    assert "fits as well" in text


def test_with_its_picture_the_drawing_shows_it() -> None:
    image = np.zeros((480, 640, 3), np.uint8)
    image[:, :, 0] = 200
    fit = make_fit(transform=UPRIGHT)
    shown = _drawing(notebook.html(fit, image, width=300))
    assert shown.shape[1] == 300
    red, green = shown.reshape(-1, 3).T[:2].astype(int)
    assert np.median(red - green) > 20
    with pytest.raises(RegmapError, match="unscaled"):
        notebook.html(fit, image[:100])


def test_names_are_escaped() -> None:
    room = RoomFit("<b>kiln</b>", "disagrees", 0.4, 2.0, 0.2, 1.0, (95.0, 60.0))
    text = notebook.html(make_fit(rooms=(room,)))
    assert "&lt;b&gt;kiln" in text
    assert "<b>kiln" not in text
