"""`python -m tests.mutate --minutes 10`: which changes of the code do the tests not notice?

One constant or operator of a module is changed at a time, and the tests of that module are run. A
change that they pass is printed: there a test is missing, or the code says nothing. No file is
touched: the changed module is compiled in a process that was forked after the heavy libraries were
loaded, which takes a tenth of the time of starting anew for each change.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib.machinery
import importlib.util
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent

TESTS: dict[str, list[str]] = {
    "regmap/engine/confidence": [
        "tests/engine/test_confidence.py",
        "tests/engine/test_judge.py",
    ],
    "regmap/engine/doubts": ["tests/engine/test_doubts.py", "tests/engine/test_judge.py"],
    "regmap/engine/judge": ["tests/engine/test_judge.py", "tests/engine/test_weighing.py"],
    "regmap/engine/precision": ["tests/engine/test_precision.py", "tests/engine/test_lines.py"],
    "regmap/engine/walls": ["tests/engine/test_walls.py", "tests/engine/test_walls_stairs.py"],
    "regmap/engine": ["tests/engine/test_{stem}.py"],
    "regmap/areas/marked": ["tests/test_areas.py", "tests/test_cli_areas.py"],
    "regmap/areas/overlay": ["tests/test_areas.py", "tests/test_floors_rare.py"],
    "regmap/areas/sound": ["tests/test_areas.py", "tests/test_hostile_areas.py"],
    "regmap/areas/floor": ["tests/test_proof.py", "tests/test_outputs_rare.py"],
    "regmap/areas": ["tests/areas/test_{stem}.py", "tests/test_rectangles.py"],
    "regmap/inputs/picture": [
        "tests/test_picture_headers.py",
        "tests/test_inputs_rare.py",
        "tests/test_pictures_arrays.py",
        "tests/test_pictures.py",
        "tests/test_pictures_hostile.py",
    ],
    "regmap/inputs/outline": [
        "tests/test_outlines.py",
        "tests/test_inputs_rare.py",
        "tests/test_outlines_hostile.py",
    ],
    "regmap/inputs/repair": [
        "tests/test_outlines.py",
        "tests/test_outlines_hostile.py",
        "tests/test_areas.py",
    ],
    "regmap/inputs/captures": [
        "tests/test_captures.py",
        "tests/test_captures_sets.py",
        "tests/test_captures_blocks.py",
        "tests/test_captures_carried.py",
        "tests/test_captures_ground.py",
        "tests/test_captures_long.py",
        "tests/test_captures_order.py",
        "tests/test_captures_hostile.py",
    ],
    "regmap/inputs/options": ["tests/test_inputs_rare.py", "tests/test_wrong_kinds.py"],
    "regmap/inputs/places": ["tests/test_places.py", "tests/test_inputs_rare.py"],
    "regmap/inputs/stored": ["tests/test_stored_hostile.py", "tests/test_cli_align.py"],
    "regmap/inputs/batch": ["tests/test_cli_batch.py"],
}
"""Which tests belong to the modules whose path begins so; the first that fits counts."""

LEFT_OUT = {"calibration.py", "__init__.py"}
"""Fitted constants, of which no single one is right, and files without code."""

SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.GtE, ast.GtE: ast.Lt, ast.Gt: ast.LtE, ast.LtE: ast.Gt,
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.And: ast.Or, ast.Or: ast.And, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
    ast.USub: ast.UAdd,
}  # fmt: skip

Change = tuple[int, str, Callable[[ast.AST], None]]


def changes(tree: ast.Module) -> Iterator[Change]:
    """Yield (number of the node, words, what to do with the node) of all changes of a module."""
    skipped = {id(inner) for node in ast.walk(tree) for inner in _silent(node)}
    for number, node in enumerate(ast.walk(tree)):
        if id(node) in skipped:
            continue
        line = getattr(node, "lineno", 0)
        if isinstance(node, ast.Constant) and isinstance(node.value, bool | int | float):
            new = _other(node.value)
            yield number, f"{line}: {node.value!r} -> {new!r}", _set("value", new)
        for name in ("op", "ops"):
            given = getattr(node, name, None)
            one = given[0] if isinstance(given, list) else given
            swapped = SWAPS.get(type(one)) if isinstance(one, ast.AST) else None
            if swapped is not None:
                words = f"{line}: {type(one).__name__} -> {swapped.__name__}"
                rest = given[1:] if isinstance(given, list) else None
                yield number, words, _set(name, swapped() if rest is None else [swapped(), *rest])


def _silent(node: ast.AST) -> Iterator[ast.AST]:
    """What stands in a node and says nothing about what the program does to sound input: types,
    what a decorator is told (frozen=True), and that lists are of one length (strict=True)."""
    said = [getattr(node, name, None) for name in ("annotation", "returns")]
    said += getattr(node, "decorator_list", [])
    said += [node.value] if isinstance(node, ast.keyword) and node.arg == "strict" else []
    for inner in said:
        if isinstance(inner, ast.AST):
            yield from ast.walk(inner)


def _other(value: bool | int | float) -> bool | int | float:
    if isinstance(value, bool):
        return not value
    return value + 1 if isinstance(value, int) else value * 1.5 + 0.1


def _set(name: str, value: Any) -> Callable[[ast.AST], None]:
    return lambda node: setattr(node, name, value)


def tests_of(path: Path) -> list[str]:
    """The test files of a module, those that are there."""
    own = path.relative_to(ROOT).as_posix()
    for begin, files in TESTS.items():
        if own.startswith(begin):
            named = [name.format(stem=path.stem) for name in files]
            return [name for name in named if (ROOT / name).exists()]
    return []


def passes(path: Path, code: Any, seconds: float) -> bool:
    """Run the tests of a module with other code in its place; False too if they take too long."""
    child = os.fork()
    if child == 0:
        os.setsid()
        _run_tests(path, code)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.02)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def _run_tests(path: Path, code: Any) -> None:
    import pytest

    name = ".".join(path.relative_to(ROOT).with_suffix("").parts)

    class Loader(importlib.machinery.SourceFileLoader):
        def get_code(self, fullname: str) -> Any:
            return super().get_code(fullname) if code is None else code

    class Finder:
        def find_spec(self, fullname: str, _path: Any = None, _target: Any = None) -> Any:
            if fullname != name:
                return None
            return importlib.util.spec_from_loader(name, Loader(name, str(path)))

    sys.meta_path.insert(0, Finder())
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    result = 1
    try:
        result = pytest.main(["-x", "-q", "-p", "no:cacheprovider", *tests_of(path)])
    finally:
        os._exit(int(result))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutate", description=__doc__)
    parser.add_argument("places", nargs="*", default=["regmap/engine", "regmap/inputs"])
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args()
    for name in ("cv2", "rasterio", "scipy.optimize", "shapely"):
        importlib.import_module(name)

    os.chdir(ROOT)
    found = [p for place in chosen.places for p in (Path(place), *Path(place).rglob("*.py"))]
    paths = [p.resolve() for p in found if p.suffix == ".py" and p.name not in LEFT_OUT]
    paths = [path for path in dict.fromkeys(paths) if tests_of(path)]
    trees = {path: ast.parse(path.read_text("utf-8")) for path in paths}
    all_changes = [(path, change) for path in paths for change in changes(trees[path])]
    random.Random(chosen.seed).shuffle(all_changes)
    usual: dict[tuple[str, ...], float] = {}
    tried: dict[Path, int] = dict.fromkeys(paths, 0)
    noticed: dict[Path, int] = dict.fromkeys(paths, 0)
    end = time.monotonic() + 60 * chosen.minutes
    for path, (number, words, change) in all_changes:
        key = tuple(tests_of(path))
        if key not in usual:
            began = time.monotonic()
            if not passes(path, None, 600.0):
                sys.exit(f"{key} fail as they are")
            usual[key] = time.monotonic() - began
        if time.monotonic() > end:
            break
        tree = deepcopy(trees[path])
        change(list(ast.walk(tree))[number])
        code = compile(ast.fix_missing_locations(tree), str(path), "exec")
        tried[path] += 1
        if passes(path, code, 5 * usual[key] + 10):
            print(f"not noticed: {path.relative_to(ROOT)}:{words}", flush=True)
        else:
            noticed[path] += 1
    for path in paths:
        if tried[path]:
            print(f"{path.relative_to(ROOT)}: {noticed[path]} of {tried[path]} noticed")
    total = sum(tried.values())
    print(f"{sum(noticed.values())} of {total} noticed; {len(all_changes)} changes in all")


if __name__ == "__main__":
    main()
