"""What the documents promise is there: commands, names, links, the test command that CI runs."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest

import regmap
from regmap.cli import main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def _blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", text, re.DOTALL)


def _commands() -> list[str]:
    lines = [line for block in _blocks(README, "sh") for line in block.splitlines()]
    words = [shlex.split(line, comments=True) for line in lines]
    return [shlex.join(word[1:]) for word in words if word and word[0] == "regmap"]


def test_the_readme_shows_the_whole_job() -> None:
    shown = [command.split()[0] for command in _commands()]
    assert shown == ["outlines", "register", "area"]


@pytest.mark.parametrize("command", _commands())
def test_every_command_in_the_readme_is_understood(command: str) -> None:
    name, *arguments = shlex.split(command)
    found = main.commands[name]
    context = found.make_context(name, arguments)  # raises UsageError if it is wrong
    assert isinstance(context, click.Context)


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


def test_the_other_projects_name_is_never_installed() -> None:
    for text in (README, DEVELOPERS, (ROOT / ".ci" / "run").read_text("utf-8")):
        assert not re.search(r"pip install\s+(-\S+\s+)*['\"]?regmap\b", text)


def test_cautions_come_before_the_set_up() -> None:
    above = README.partition("## Set up")[0]
    for word in ("no safety barrier", "stairs", "children", "animals", "wet floors", "first run"):
        assert word in above
    assert "Local codes and licensed practice come first" in above
