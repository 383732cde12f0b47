"""What the documents promise is there: commands, names, links, the test command that CI runs."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

import regmap
from regmap.cli import main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def _blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", text, re.DOTALL)


def _lines(block: str) -> list[list[str]]:
    """Return the words of each command of a shell block."""
    whole = block.replace("\\\n", " ").splitlines()
    words = [shlex.split(line, comments=True) for line in whole]
    return [line for line in words if line]


def _commands() -> list[list[str]]:
    """Return what the README gives to the command `regmap`, in order."""
    lines = [line for block in _blocks(README, "sh") for line in _lines(block)]
    return [line[1:] for line in lines if line[0] == "regmap"]


def test_the_readme_shows_the_whole_job() -> None:
    shown = {command[0] for command in _commands()} | {"demo"}
    assert shown == set(main.commands)
    assert ".venv/bin/regmap demo" in README


def test_the_readme_followed_to_the_letter_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From an empty folder: the demo, then every command and every piece of Python, in order."""
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    assert CliRunner().invoke(main, ["demo"]).exit_code == 0
    monkeypatch.chdir(tmp_path / "regmap-demo")
    for language, block in re.findall(r"```(sh|python)\n(.*?)```", README, re.DOTALL):
        if language == "python":
            with contextlib.redirect_stdout(io.StringIO()):
                exec(compile(block, "README.md", "exec"), names)
            continue
        for command in _lines(block):
            if command[0] == "regmap":
                ran = CliRunner().invoke(main, command[1:])
                assert ran.exit_code == 0, (command, ran.output)
    assert str(names["name"]) == "gallery"
    made = {path.name for path in Path().iterdir()}
    assert {"ground", "areas.png", "boxes.geojson", "for-others", "moved.png", "today"} <= made
    told = README.partition("**Hand-over** writes")[2].partition("###")[0]
    for path in Path("for-others").iterdir():
        assert path.name in told or path.suffix in told, path


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_links_lead_to_files(text: str) -> None:
    links = re.findall(r"\]\(([^)#]+)\)", text)
    for link in links:
        assert "://" in link or (ROOT / link).exists(), link


def test_names_in_the_readme_are_there() -> None:
    for name in set(re.findall(r"`?regmap\.(\w+)", README)):
        assert name in regmap.__all__, name
    for name in set(re.findall(r"`fit\.(\w+)", README)):
        fields = regmap.Registration.__dataclass_fields__
        assert name in fields or hasattr(regmap.Registration, name), name


def test_ci_runs_the_test_command_of_the_readme() -> None:
    command = _blocks(README, "sh")[1].strip()
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert command == ".venv/bin/python -m pytest"
    assert '"$VENV/bin/python" -m pytest' in script
    assert 'VENV="${VENV:-.venv}"' in script


def test_the_workflow_of_a_public_host_calls_the_same_script() -> None:
    yaml = pytest.importorskip("yaml")
    work = yaml.safe_load((ROOT / ".github" / "workflows" / "ci.yml").read_text("utf-8"))
    job = work["jobs"]["ci"]
    assert [step["run"] for step in job["steps"] if "run" in step] == [".ci/run"]
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    promised = re.findall(r"Python :: (\d\.\d+)", "\n".join(project["classifiers"]))
    assert job["strategy"]["matrix"]["python"] == promised


def test_hooks_run_what_ci_runs() -> None:
    yaml = pytest.importorskip("yaml")
    stored = yaml.safe_load((ROOT / ".pre-commit-config.yaml").read_text("utf-8"))
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    for hook in stored["repos"][0]["hooks"]:
        tool = hook["entry"].split()[0].removeprefix(".venv/")
        assert f'"$VENV/{tool}"' in script, hook["id"]
        for word in hook["entry"].split()[1:]:
            if word.startswith("tests/"):
                assert (ROOT / word).is_file()


def test_the_other_projects_name_is_never_installed() -> None:
    for text in (README, DEVELOPERS, (ROOT / ".ci" / "run").read_text("utf-8")):
        assert not re.search(r"pip install\s+(-\S+\s+)*['\"]?regmap\b", text)


def test_cautions_come_before_the_set_up() -> None:
    above = README.partition("## Set up")[0]
    for word in ("no safety barrier", "stairs", "children", "animals", "wet floors", "first run"):
        assert word in above
    assert "Local codes and licensed practice come first" in above
