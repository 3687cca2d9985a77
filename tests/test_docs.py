"""What the documents promise is so: every verb is explained, every command shown is one that exists."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from dashboard import safety
from dashboard.cli import build_parser
from dashboard.commands import VERBS
from ingest.bike_file import parse_bike
from ingest.errors import FlatfootError
from ingest.setup_file import parse_setup

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
LINES = [line.strip() for line in README.splitlines()]


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("verb", VERBS, ids=lambda verb: verb.NAME)
def test_every_verb_is_in_the_readme_and_shows_an_example(verb: object) -> None:
    assert f"`{verb.NAME}`" in README
    assert f"flatfoot {verb.NAME}" in verb.EXAMPLE


def shown_commands() -> list[str]:
    """Every command line in the README's blocks, continued lines joined."""
    text = "\n".join(blocks("console") + blocks("sh")).replace("\\\n", " ")
    found = re.findall(r"^(?:\$ )?(flatfoot (?!VERB).*)$", text, flags=re.MULTILINE)
    shown = [verb.EXAMPLE.replace("\\\n", " ") for verb in VERBS]
    examples = [line.strip() for text in shown for line in text.splitlines()]
    return [*found, *(line for line in examples if line.startswith("flatfoot "))]


@pytest.mark.parametrize("command", dict.fromkeys(shown_commands()))
def test_every_command_shown_can_be_typed(command: str) -> None:
    import shlex

    words = shlex.split(command.split("#")[0])
    try:
        build_parser().parse_args(words[1:])
    except FlatfootError as problem:
        pytest.fail(f"{command}: {problem}")


def test_the_readme_opens_with_the_job_and_the_two_commands() -> None:
    first_screen = README.splitlines()[:45]
    assert any("make demo" in line for line in first_screen)
    assert any("make test" in line for line in first_screen)
    assert any("Windows" in line for line in first_screen)
    assert any("macOS" in line for line in first_screen)


def test_bike_and_setup_files_shown_can_be_read() -> None:
    files = blocks("toml")
    bikes = [text for text in files if "[bike]" in text]
    setups = [text for text in files if "[setup]" in text]
    assert bikes
    assert setups
    for text in bikes:
        assert parse_bike(text).front is not None
    for text in setups:
        assert parse_setup(text).name


def test_safety_words_are_in_the_readme_word_for_word() -> None:
    text = " ".join(README.split())
    for sentence in safety.SAFETY:
        assert sentence in text


def test_developers_start_with_install_check_and_test() -> None:
    first = DEVELOPERS.splitlines()[:14]
    for command in ("make demo", "make lint", "make test"):
        assert any(command in line for line in first)


@pytest.mark.parametrize(
    "name", re.findall(r"`((?:ingest|analysis|dashboard|tests|\.ci)/[\w/.]+)`", DEVELOPERS)
)
def test_every_file_developers_are_sent_to_exists(name: str) -> None:
    assert (ROOT / name).exists(), name
