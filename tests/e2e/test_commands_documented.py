"""docs/commands.md tells every command, every option and every kind of document."""

import re

import pytest
import typer

from optim.service.cli import COMMANDS, make_app
from tests.commands import ROOT

PAGE = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
_SHARED = ("--store", "--json", "--quiet", "--verbose", "--dry-run", "--help")


def _section(name: str) -> str:
    found = re.search(rf"^## {name}$(.*?)(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL)
    assert found, f"docs/commands.md has no section '## {name}'"
    return found[1]


def _options(name: str) -> list[str]:
    commands = getattr(typer.main.get_command(make_app()), "commands")  # noqa: B009 (untyped)
    return [max(p.opts, key=len) for p in commands[name].params if p.opts[0].startswith("-")]


@pytest.mark.parametrize("name", COMMANDS)
def test_command_has_a_section_with_an_example(name: str) -> None:
    assert f"    paretorque {name}" in _section(name)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_is_told(name: str) -> None:
    options = _options(name)
    assert options
    for option in options:
        place = PAGE if option in _SHARED else _section(name)
        assert option in place, f"{name} {option} is not in docs/commands.md"


def test_nothing_is_told_that_is_not_there() -> None:
    known = {option for name in COMMANDS for option in _options(name)} | {"--help"}
    assert set(re.findall(r"--[a-z][a-z-]+", PAGE)) <= known
    sections = set(re.findall(r"^## ([a-z]+)$", PAGE, re.MULTILINE))
    assert sections == set(COMMANDS)


def test_every_example_of_the_page_has_known_commands() -> None:
    examples = re.findall(r"^    paretorque (\S+)", PAGE, re.MULTILINE)
    assert len(examples) >= len(COMMANDS)
    assert set(examples) <= set(COMMANDS)
