"""Documents that cannot lie: commands, columns, flags and the locked list agree with the code."""

import argparse
import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from proofkit.cli.commands import parser
from proofkit.columns import TABLES
from proofkit.quality import WORDS
from tests.write_docs import refreshed

ROOT = Path(__file__).parents[1]


def read(name):
    return (ROOT / name).read_text(encoding="utf-8")


def commands():
    (chosen,) = (action for action in parser()._actions if isinstance(action, argparse._SubParsersAction))
    helps = {action.dest: action.help for action in chosen._choices_actions}
    return {name: (command, helps.get(name)) for name, command in chosen.choices.items()}


@pytest.mark.parametrize("name", commands())
def test_every_command_and_option_has_help_and_is_in_the_readme(name):
    command, line = commands()[name]
    readme = read("README.md")
    assert line
    assert command.description
    assert f"proofkit {name}" in readme
    for action in command._actions:
        assert action.help, action.dest
        for option in action.option_strings:
            if option.startswith("--") and option != "--help":
                assert option in readme, option


def test_the_readme_names_no_command_that_is_not_there():
    code = re.findall(r"```.*?```|`[^`\n]+`", read("README.md"), re.DOTALL)
    told = {name for part in code for name in re.findall(r"\bproofkit ([a-z]+)", part)}
    assert told
    assert told <= set(commands())


def test_every_layer_below_figures_is_kept_from_drawing():
    layers, drawing = tomllib.loads(read("pyproject.toml"))["tool"]["importlinter"]["contracts"][:2]
    below = layers["layers"][layers["layers"].index("figures") + 1 :]
    modules = {f"proofkit.{name}" for layer in below for name in layer.split(" | ")}
    assert set(drawing["source_modules"]) == modules


@pytest.mark.parametrize("table", TABLES)
def test_every_column_is_in_the_developers_page(table):
    text = read("DEVELOPERS.md")
    missing = [c.name for c in TABLES[table] if not c.name.startswith("u_") and f"`{c.name}`" not in text]
    assert missing == []


def test_every_quality_flag_is_in_the_developers_page():
    text = read("DEVELOPERS.md")
    assert [word for word, meaning in WORDS.values() if word not in text or meaning not in text] == []


def test_the_tables_in_the_developers_page_are_up_to_date():
    text = read("DEVELOPERS.md")
    assert "<!-- columns -->" in text
    assert "<!-- flags -->" in text
    assert text == refreshed(text), "run: python -m tests.write_docs"


def locked_versions():
    """Return name -> versions of the locked list; one list serves several Pythons."""
    versions = {}
    for line in read("tests/locked.txt").splitlines():
        found = re.match(r"([a-z0-9._-]+)==([^\s;]+)", line)
        if found:
            versions.setdefault(found[1], []).append(found[2])
    return versions


def test_every_dependency_is_locked_at_a_version_that_is_allowed():
    project = tomllib.loads(read("pyproject.toml"))["project"]
    asked = project["dependencies"] + [
        entry for extra in project["optional-dependencies"].values() for entry in extra
    ]
    locked = locked_versions()
    for requirement in map(Requirement, asked):
        name = re.sub(r"[-_.]+", "-", requirement.name).lower()  # PEP 503
        assert name in locked, f"{name} is not in tests/locked.txt"
        assert all(requirement.specifier.contains(version) for version in locked[name]), name


def test_the_locked_list_holds_names_versions_and_hashes_only():
    line = re.compile(r"[a-z0-9._-]+==[^\s;]+( ; [^\\]+)? \\|    --hash=sha256:[0-9a-f]{64}( \\)?")
    assert [text for text in read("tests/locked.txt").splitlines() if text and not line.fullmatch(text)] == []
