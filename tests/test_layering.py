"""The rules of the house: who may import what, who touches files, who logs."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent / "regmap"
MODULES = sorted(HOUSE.rglob("*.py"))

# Imports run downwards: a module may import what has its own rank or a lower one.
RANK = {
    "caution": 0,
    "errors": 0,
    "given": 0,
    "timing": 0,
    "units": 0,
    "frames": 1,
    "accuracy": 1,
    "pairs": 1,
    "engine": 2,
    "inputs": 2,
    "registration": 2,
    "synthetic": 3,
    "pipeline": 3,
    "register": 3,
    "floors": 4,
    "areas": 4,
    "batch": 4,
    "outputs": 5,
    "cli": 6,
    "__main__": 6,
}
# A result can store and show itself; it reaches up for that only when it is asked to.
REACHES_UP = {"regmap.registration": {"regmap.outputs.storage", "regmap.outputs.notebook"}}

READS = {"open", "read_bytes", "read_text", "imread", "loadtxt", "genfromtxt", "fromfile"}
WRITES = {"write_bytes", "write_text", "imwrite", "savetxt", "tofile", "replace", "unlink", "mkdir"}


def _name(path: Path) -> str:
    parts = path.relative_to(HOUSE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _part(module: str) -> str:
    return module.split(".")[1] if "." in module else ""


NAMES = {_name(path): path for path in MODULES}


def _is_type_checking(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)


def _nodes(tree: ast.AST) -> Iterator[ast.AST]:
    """Walk everything that runs: what stands under `if TYPE_CHECKING` does not."""
    for child in ast.iter_child_nodes(tree):
        if _is_type_checking(child):
            continue
        yield child
        yield from _nodes(child)


def _imports(path: Path) -> set[str]:
    """Return the modules that a file imports anywhere, its own in full (regmap.engine.refine)."""
    package = _name(path) if path.name == "__init__.py" else _name(path).rpartition(".")[0]
    found: set[str] = set()
    for node in _nodes(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = package.rsplit(".", node.level - 1)[0]
                base = f"{above}.{base}" if base else above
            for alias in node.names:
                whole = f"{base}.{alias.name}"
                found.add(whole if whole in NAMES else base)
    return found


IMPORTS = {name: _imports(path) for name, path in NAMES.items()}


def test_every_module_is_in_a_known_part_of_the_house() -> None:
    assert {_part(name) for name in NAMES} - {""} <= set(RANK)


@pytest.mark.parametrize("name", [name for name in NAMES if _part(name)])
def test_imports_run_downwards(name: str) -> None:
    for other in IMPORTS[name] - REACHES_UP.get(name, set()):
        if other.split(".")[0] != "regmap" or not _part(other):
            continue  # the package itself holds the version and imports nothing
        assert RANK[_part(other)] <= RANK[_part(name)], f"{name} must not import {other}"


def test_no_module_imports_itself_in_a_circle() -> None:
    graph = {
        name: {o for o in IMPORTS[name] - REACHES_UP.get(name, set()) if o in NAMES and _part(o)}
        for name in NAMES
    }
    done: set[str] = set()

    def visit(name: str, way: tuple[str, ...]) -> None:
        assert name not in way, " -> ".join((*way, name))
        if name not in done:
            for other in sorted(graph[name]):
                # A package's __init__ that gathers its own modules is no circle.
                if not (name.startswith(other + ".") or other.startswith(name + ".")):
                    visit(other, (*way, name))
            done.add(name)

    for name in graph:
        visit(name, ())


@pytest.mark.parametrize("name", [name for name in NAMES if _part(name) == "engine"])
def test_the_engine_takes_arrays_and_gives_arrays(name: str) -> None:
    """It knows no file and no shapely object, and nothing of the house but frames and errors."""
    for other in IMPORTS[name]:
        root = other.split(".")[0]
        if root == "regmap":
            assert _part(other) in {"engine", "frames", "accuracy", "errors"}, other
        else:
            assert root in sys.stdlib_module_names | {"numpy", "cv2", "scipy"}, other
            assert root not in {"os", "io", "pathlib", "tempfile", "json", "logging"}, other


def test_the_core_needs_no_other_package() -> None:
    allowed = {"regmap", "numpy", "cv2", "scipy", "shapely", "rasterio", "affine"}
    for name in NAMES:
        extra = {"click"} if _part(name) == "cli" else set()
        for other in IMPORTS[name]:
            root = other.split(".")[0]
            assert root in sys.stdlib_module_names | allowed | extra, f"{name} imports {other}"


def _calls(path: Path) -> Iterator[tuple[str, ast.Call]]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call):
            target = node.func
            if isinstance(target, ast.Name):
                yield target.id, node
            elif isinstance(target, ast.Attribute):
                yield target.attr, node


def _is_of_text_or_dataclass(call: ast.Call, attribute: str) -> bool:
    """`str.replace(a, b)` and `dataclasses.replace(x, a=b)` share a name with `os.replace`."""
    if attribute != "replace" or not isinstance(call.func, ast.Attribute):
        return attribute == "replace"
    return ast.unparse(call.func.value) not in {"os", "shutil"}


@pytest.mark.parametrize("name", list(NAMES))
def test_only_inputs_read_and_only_outputs_write(name: str) -> None:
    for attribute, call in _calls(NAMES[name]):
        if attribute in READS:
            reader = _part(name) == "inputs" or _part(name) == "outputs"
            assert reader, f"{name}, line {call.lineno}: {attribute}"
        if attribute in WRITES and not _is_of_text_or_dataclass(call, attribute):
            assert _part(name) == "outputs", f"{name}, line {call.lineno}: {attribute}"


@pytest.mark.parametrize("name", list(NAMES))
def test_logging_is_set_up_by_the_command_line_alone(name: str) -> None:
    for attribute, call in _calls(NAMES[name]):
        if attribute in {"basicConfig", "addHandler", "StreamHandler", "FileHandler", "setLevel"}:
            quiet = name == "regmap" and "NullHandler" in ast.unparse(call)
            assert quiet or _part(name) == "cli", f"{name}, line {call.lineno}: {attribute}"


@pytest.mark.parametrize("name", list(NAMES))
def test_randomness_is_handed_in(name: str) -> None:
    """No module draws from a generator of its own: only a seed that was handed in makes one."""
    for attribute, call in _calls(NAMES[name]):
        if attribute in {"default_rng", "RandomState", "Random", "seed", "theRNG"}:
            assert call.args, f"{name}, line {call.lineno}: {attribute}() without a seed"


@pytest.mark.parametrize("name", list(NAMES))
def test_files_and_functions_are_short(name: str) -> None:
    text = NAMES[name].read_text("utf-8")
    assert text.count("\n") < 400
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            length = (node.end_lineno or 0) - node.body[0].lineno + 1
            assert length < 60, f"{name}.{node.name}: {length} lines"


def _run(code: str) -> str:
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=HOUSE.parent
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.strip()


HEAVY = "{'numpy', 'cv2', 'scipy', 'rasterio', 'shapely', 'affine', 'click'}"


def test_import_loads_nothing_heavy() -> None:
    assert _run(f"import sys, regmap; print({HEAVY} & set(sys.modules))") == "set()"


def test_errors_load_nothing_heavy() -> None:
    code = f"import sys, regmap; regmap.NoFitError; print({HEAVY} & set(sys.modules))"
    assert _run(code) == "set()"


def test_help_loads_nothing_heavy() -> None:
    heavy = HEAVY.replace(", 'click'", "")
    code = (
        "import sys\nfrom regmap.cli import main\n"
        "try:\n    main(['register', '--help'])\nexcept SystemExit:\n    pass\n"
        f"print({heavy} & set(sys.modules))"
    )
    assert _run(code).splitlines()[-1] == "set()"


def test_every_public_name_is_found() -> None:
    code = (
        "import regmap\n"
        "assert set(regmap.__all__) <= set(dir(regmap))\n"
        "print(all(getattr(regmap, name) is not None for name in regmap.__all__))"
    )
    assert _run(code) == "True"


def test_every_writer_is_found_and_loaded_when_it_is_used() -> None:
    code = (
        "import sys, regmap\n"
        f"print({HEAVY} & set(sys.modules) if dir(regmap.outputs) else None)\n"
        "print(all(getattr(regmap.outputs, name).__doc__ for name in dir(regmap.outputs)))"
    )
    assert _run(code) == "set()\nTrue"
    missing = "from regmap import outputs\nprint(hasattr(outputs, 'geojsn'))"
    assert _run(missing) == "False"


@pytest.mark.parametrize("first", ["regmap.floors", "regmap.register", "regmap.batch"])
def test_register_stays_a_function_whatever_was_imported_first(first: str) -> None:
    code = (
        f"import {first}, regmap\nfrom regmap import register as one\n"
        "from regmap.register import register as two\n"
        "print(regmap.register is one is two, callable(one))"
    )
    assert _run(code) == "True True"


def test_an_unknown_name_is_refused() -> None:
    import regmap

    wrong = "registre"
    with pytest.raises(AttributeError, match=f"no attribute '{wrong}'"):
        getattr(regmap, wrong)
