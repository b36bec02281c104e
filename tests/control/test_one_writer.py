"""Each attribute in control is changed by the module that defines it, and by no other: every state has one owner."""

import ast
from pathlib import Path

import pytest

import halocline.control

FOLDER = Path(halocline.control.__file__).parent
MODULES = {str(path.relative_to(FOLDER)): ast.parse(path.read_text()) for path in sorted(FOLDER.rglob("*.py"))}


def targets(tree):
    """Every place an assignment goes to."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign):
            found = node.targets
        elif isinstance(node, ast.AugAssign | ast.AnnAssign):
            found = [node.target]
        else:
            continue
        for target in found:
            yield from target.elts if isinstance(target, ast.Tuple | ast.List) else (target,)


def owned(tree):
    """Attributes of the classes that a module defines: fields, and what `__init__` gives its own object."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.ClassDef):
            continue
        for item in node.body:
            if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name):
                yield item.target.id
            if isinstance(item, ast.FunctionDef) and item.name == "__init__":
                for target in targets(item):
                    if isinstance(target, ast.Attribute) and ast.unparse(target.value) == "self":
                        yield target.attr


def strays(name, tree):
    """Assignments to attributes that the module does not define."""
    known = set(owned(tree))
    return [
        f"{name}:{target.lineno}: {ast.unparse(target)}"
        for target in targets(tree)
        if isinstance(target, ast.Attribute) and target.attr not in known
    ]


@pytest.mark.parametrize("name", MODULES)
def test_a_module_changes_only_what_it_defines(name):
    assert strays(name, MODULES[name]) == []


def test_a_stray_writer_would_be_found():
    stray = ast.parse("def enter(at):\n    at.position.state = 'tripped'\n    at.count += 1\n")
    assert strays("transition_actions.py", stray) == [
        "transition_actions.py:2: at.position.state",
        "transition_actions.py:3: at.count",
    ]
