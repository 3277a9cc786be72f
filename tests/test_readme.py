"""The README against the program: commands, columns, settings, rules, set-up lines."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from nesting.contract import TABLES
from nesting.verify_rules import RULES
from reports.cli import commands
from stock.shop import SETTINGS, Setting

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def all_commands(group: click.Group, before: str = "") -> dict[str, click.Command]:
    """Every command by what is typed for it, those of groups too."""
    found: dict[str, click.Command] = {}
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            found |= all_commands(command, f"{before}{name} ")
        else:
            found[before + name] = command
    return found


COMMANDS = all_commands(commands)


def section(heading: str) -> str:
    """The text from a heading that begins so to the next heading of any level."""
    match = re.search(rf"^#+ {heading}.*?(?=^#|\Z)", README, flags=re.MULTILINE | re.DOTALL)
    assert match, f"the README has no section {heading!r}"
    return match[0]


def rows(text: str) -> dict[str, str]:
    """The rows of the tables in a text, by each name in their first cell."""
    found = {}
    for line in text.splitlines():
        if line.startswith("| `"):
            first, rest = line[2:].split(" | ", 1)
            found |= dict.fromkeys(re.findall(r"`([^`]+)`", first), rest)
    return found


def shell_lines() -> list[str]:
    """The lines of the shell blocks."""
    blocks = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    return [line for block in blocks for line in block.splitlines()]


def test_the_first_paragraph_states_the_job():
    first = README.split("\n\n")[1]
    assert len(first) > 200
    assert not first.startswith(("#", "|", "`", "-"))


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_the_readme(name):
    assert f"| `stavewright {name}" in section("Commands")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_of_a_command_is_in_its_line_of_the_readme(name):
    line = next(
        line
        for line in section("Commands").splitlines()
        if line.startswith(f"| `stavewright {name}")
    )
    command = COMMANDS[name]
    options = [
        option.opts[0]
        for option in command.params
        if isinstance(option, click.Option) and "--help" not in option.opts
    ]
    assert [option for option in options if not re.search(rf"{option}[ \]]", line)] == []


@pytest.mark.parametrize("name", COMMANDS)
def test_the_help_of_a_command_ends_with_an_example_that_it_accepts(name, tmp_path):
    result = CliRunner().invoke(commands, [*name.split(), "--help"])
    assert result.exit_code == 0
    words = shlex.split(result.stdout.splitlines()[-1])
    arguments = words[1 + len(name.split()) :]
    assert words == ["stavewright", *name.split(), *arguments]
    # the example's options and arguments are known: the command reads them all
    parser = COMMANDS[name].make_parser(click.Context(COMMANDS[name]))
    _, left, _ = parser.parse_args(args=list(arguments))
    assert left == []


def test_help_is_short_and_options_state_a_unit_or_default():
    for name, command in COMMANDS.items():
        text = CliRunner().invoke(commands, [*name.split(), "--help"]).stdout
        assert len(text.splitlines()) <= 36
        for option in command.params:
            if isinstance(option, click.Option):
                assert option.help
                assert option.show_default or "default" in option.help


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_column_of_a_table_is_in_its_section(table):
    text = section(table.name)
    missing = [column.name for column in table.columns if f"`{column.name}`" not in text]
    assert missing == []


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_table_names_no_column_that_is_not_there(table):
    known = {column.name for column in table.columns}
    if table.name == "Shop":
        known |= {setting.name for setting in SETTINGS}
    assert set(rows(section(table.name))) - known == set()


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_word_a_cell_may_hold_is_named(table):
    text = section("The project file") + "".join(section(table.name) for table in TABLES)
    words = {
        word for column in table.columns if column.kind != "flag" for word in column.words
    }
    assert {word for word in words if f"`{word}`" not in text} == set()


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda setting: setting.name)
def test_every_setting_stands_with_its_defaults_and_meaning(setting: Setting):
    inch, mm, meaning = rows(section("Shop"))[setting.name].rstrip(" |").split(" | ")
    assert inch.startswith(setting.inch or "blank")
    if setting.name != "unit":
        assert mm.startswith(setting.mm or "blank")
    assert meaning.startswith(setting.meaning)


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_of_the_verifier_is_stated(rule):
    flat = " ".join(section("How we know a plan is right").split())
    assert f"| {rule} | {RULES[rule]} |" in flat


def test_there_are_two_set_up_lines_the_demo_and_the_tests():
    assert shell_lines() == [
        'pip install ".[fast]" && stavewright demo',
        'pip install -e ".[dev]" && pytest -q',
    ]


def test_continuous_checks_run_the_very_test_line_of_the_readme():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert f"step '{shell_lines()[1]}'\n" in script


def test_the_developers_page_maps_every_file_of_code():
    for package in ("stock", "nesting", "reports", "reports/sheets"):
        names = {path.name for path in (ROOT / package).glob("*.py")} - {"__init__.py"}
        assert {name for name in names if f"`{name}`" not in DEVELOPERS} == set()


def test_the_pages_link_to_nothing_that_is_not_there():
    for page in (README, DEVELOPERS):
        for path in re.findall(r"`((?:stock|nesting|reports|tests)/[\w./-]+)`", page):
            assert (ROOT / path).exists(), path
