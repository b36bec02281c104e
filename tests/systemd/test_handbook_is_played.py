"""Every command and every file of systemd/README.md is played by `make aboard`, or its reason stands in
tests/aboard/README.md: what nobody has run is no instruction."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HANDBOOK = (ROOT / "systemd/README.md").read_text("utf-8")
STORY = {path.name: path.read_text("utf-8") for path in (ROOT / "tests/aboard").glob("*.py")}
PROGRAMS = {"sudo", "halocline", "journalctl", "wdctl", "gpioinfo", "chrt", "systemd-analyze", "systemctl", "make"}
"""First words of what is typed at a terminal."""


def calls(function):
    """The arguments of each call of a function of the story, as regular expressions; `{…}` in one stands for a word."""
    for text in STORY.values():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == function:
                yield [pattern(argument) for argument in [*node.args, *(word.value for word in node.keywords)]]


def pattern(argument):
    parts = argument.values if isinstance(argument, ast.JoinedStr) else [argument]
    return "".join(re.escape(part.value) if isinstance(part, ast.Constant) else r"\w+" for part in parts)


def sections():
    """Heading → text."""
    parts = re.split(r"^## (.*)\n", HANDBOOK, flags=re.M)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def blocks():
    """Each indented block with its heading, its lines joined where they go on."""
    for heading, text in sections().items():
        for block in re.findall(r"(?:^ {4}\S.*\n|^ {8,}\S.*\n)+", text, re.M):
            yield heading, [line.strip() for line in re.sub(r"\\\n\s+", "", block).splitlines()]


def inline_commands():
    spans = (" ".join(span.split()) for span in re.findall(r"`([^`]+)`", re.sub(r"^    .*$", "", HANDBOOK, flags=re.M)))
    return sorted(
        {span for span in spans if span.split()[0] in PROGRAMS and span not in PROGRAMS - {"wdctl", "gpioinfo"}}
    )


def excused():
    """Line → why it is not played."""
    text = (ROOT / "tests/aboard/README.md").read_text("utf-8").split("## Lines of the handbook that are not played")[1]
    return dict(re.findall(r"^\| `(.+?)` \| (.+) \|$", text.split("\n## ")[0], re.M))


def typed_by_the_story(command):
    if any(re.match(beginning, command) for (beginning,) in calls("inline")):
        return True
    return any(re.search(rf"[\"; (]{re.escape(command)}\b", text) for text in STORY.values())


@pytest.mark.parametrize("command", inline_commands())
def test_a_command_in_a_sentence_is_played_or_excused(command):
    assert typed_by_the_story(command) or excused().get(command), command


@pytest.mark.parametrize(("heading", "lines"), list(blocks()))
def test_a_block_is_played_or_excused(heading, lines):
    if lines[0].startswith("sudo "):
        played = any(re.fullmatch(asked, heading) for (asked,) in calls("handbook"))
    else:
        played = any(
            re.fullmatch(first, lines[0]) and any(re.search(holding, line) for line in lines)
            for first, holding in calls("handbook_file")
        )
    assert played or excused().get(lines[0]), lines


def test_nothing_is_excused_that_is_played_or_gone():
    there = {*inline_commands(), *(lines[0] for _, lines in blocks())}
    assert [line for line in excused() if line not in there or typed_by_the_story(line)] == []


def test_the_handbook_is_read_at_all():
    """The patterns above would find nothing in a handbook of another form, and call that played."""
    assert len(inline_commands()) > 10
    assert len(list(blocks())) > 5
