"""tests/oldest.txt holds the oldest versions that pyproject.toml allows, and no others."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

TOOLS = {"ruff", "mypy", "scipy-stubs", "types-shapely", "types-pyyaml", "atheris"}
"""They look at the code or attack it; no test imports them."""


def _bounds() -> dict[str, str]:
    """The highest of the lower bounds of each package, whichever extra it is of."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    bounds: dict[str, str] = {}
    for given in (project["dependencies"], *project["optional-dependencies"].values()):
        for requirement in given:
            name, bound = requirement.split(">=")
            assert re.fullmatch(r"[\w-]+", name), requirement
            assert re.fullmatch(r"[\d.]+", bound), requirement
            bounds[name.lower()] = max(bounds.get(name.lower(), "0"), bound, key=_parts)
    return {name: bound for name, bound in bounds.items() if name not in TOOLS}


def _pins() -> dict[str, str]:
    text = (ROOT / "tests" / "oldest.txt").read_text("utf-8")
    return {name.lower(): pin for name, pin in re.findall(r"^([\w-]+)==([\d.]+)$", text, re.M)}


def _parts(version: str) -> list[int]:
    return [int(part) for part in version.split(".")]


def test_the_same_packages_are_named() -> None:
    assert sorted(_pins()) == sorted(_bounds())


@pytest.mark.parametrize("name", _bounds())
def test_what_is_pinned_is_the_lower_bound(name: str) -> None:
    """2.1.0 is the oldest of 2.1; of some there was no .0, or none with wheels for Python 3.11."""
    bound = _parts(_bounds()[name])
    assert _parts(_pins()[name])[: len(bound)] == bound


def test_the_check_of_everything_runs_them() -> None:
    """Each test file that .ci/run names is there, and runs with the constraints."""
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert "-c tests/oldest.txt" in script
    named = re.findall(r"tests/[\w/]+\.py|tests/\w+(?=[ \\\n])", script)
    assert len(named) > 5
    assert all((ROOT / name).exists() for name in named)
