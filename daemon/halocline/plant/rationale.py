"""Every number that decides something, with its reason, gathered from the source: what IEC 62682 calls rationalisation.

A constant of control and signals is followed by a text that says why it has this value and what that rests on. The
document THRESHOLDS.md is made of these texts. `bare` finds every number that has none.
"""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

ROOT = Path(__file__).parents[1]
PLACES = ("plant/thresholds.py", "plant/motor.py", "control", "signals")
UNITS = {
    "BAR_S": "bar/s",
    "L_H": "L/h",
    "MG_L": "mg/L",
    "US_CM": "µS/cm",
    "LMH_BAR": "LMH/bar",
    "LMH": "LMH",
    "PERCENT_PER_V": "%/V",
    "PER_S": "1/s",
    "PERCENT": "%",
    "SPS": "1/s",
    "TICKS": "ticks",
    "CODES": "codes",
    "PULSES": "pulses",
    "BAR": "bar",
    "OHM": "ohm",
    "MA": "mA",
    "S": "s",
    "C": "°C",
    "K": "K",
    "L": "L",
    "V": "V",
}
"""Unit by the end of a name; a name that ends otherwise is a count, a share or a factor."""

BASIS = re.compile(
    r"common practice|from memory|invented|chosen|computed|data sheet|\bIEC [0-9]|\bISO [0-9]|\bNAMUR NE [0-9]"
)
"""What a reason says of where its number comes from."""

HARMLESS = frozenset({-1, 0, 1})
"""None, one, and not there: wherever they stand (chosen)."""
HALF = 2
"""Halves and doubles; as a whole number also a pair, or a second one (chosen)."""
CONVERSIONS = frozenset({24, 60, 100, 1000, 3600})
"""Of units, in products and quotients (chosen)."""
FIRST_PLACES = range(5)
"""Places in a short sequence (chosen)."""
DIGITS = {"round": 1, "int": 1}
"""Functions, and from which of their arguments on a number is one of digits (chosen)."""

INTRODUCTION = """# Thresholds and their reasons

*Made from the code by `make docs`; do not edit.*

Every number that decides something in `control` and `signals` and is no setting, with its reason and what that
rests on, as alarm rationalisation (IEC 62682) asks. *Common practice* is a fact of the trade; *from memory* was
not read again; *computed* follows from what is named; *chosen* is a decision of ours that nothing outside
prescribes; *invented* was made up, wide on purpose. A standard or a data sheet is named. A name ends in its
unit; without one it is a count, a share or a factor. The limits that an owner sets stand in `hw/limits.md`,
delays and dead bands of the causes in `CAUSES.md`."""


@dataclass(frozen=True, slots=True)
class Constant:
    """A named number or set of numbers: its module by its path, its value as it is written, its reason."""

    module: str
    name: str
    value: str
    reason: str

    @property
    def unit(self) -> str:
        """By the end of its name; empty for a count, a share or a factor."""
        last = self.name.rpartition(".")[2]
        return next((unit for end, unit in UNITS.items() if last.endswith(f"_{end}")), "")


def files() -> list[Path]:
    """The sources that are looked at."""
    found: list[Path] = []
    for place in PLACES:
        path = ROOT / place
        found += [path] if path.is_file() else sorted(path.rglob("*.py"))
    return found


def constants() -> list[Constant]:
    """All named numbers that have a reason, as they stand in the source."""
    return [each for file in files() for each in _constants(file.relative_to(ROOT).as_posix(), file.read_text("utf-8"))]


def _constants(module: str, source: str) -> Iterator[Constant]:
    for statement, owner, reason in _assignments(ast.parse(source)):
        if reason is None:
            continue
        for name, value in _named(statement, owner):
            constant = Constant(module, name, value, reason)
            if constant.unit or _has_number(statement):
                yield constant


def bare(module: str, source: str) -> list[str]:
    """What of one source has no reason, a line each: where it stands, what it is, what to do."""
    tree = ast.parse(source)
    wrong: list[tuple[int, str]] = []
    told: set[ast.AST] = set()
    for statement, owner, reason in _assignments(tree):
        if not _has_number(statement):
            continue
        told |= set(_outside_of_functions(statement))
        names = ", ".join(name for name, _ in _named(statement, owner))
        if reason is None:
            wrong.append((statement.lineno, f"{names} has no reason: write it as a text on the next line"))
        elif not BASIS.search(reason):
            wrong.append((statement.lineno, f"{names}: the reason does not say what it rests on ({BASIS.pattern})"))
    parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and _is_number(node) and node not in told and not _is_plain(node, parents):
            wrong.append((node.lineno, f"a bare {node.value!r}: give it a name and a reason"))
    return [f"{module}:{line}: {what}" for line, what in sorted(wrong)]


def _assignments(tree: ast.Module) -> Iterator[tuple[ast.Assign | ast.AnnAssign, str, str | None]]:
    """Every constant of a module or of a class, the class's name with a dot, and the text that follows. A field with an
    annotation is no constant of its class but a default."""
    classes = [node for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    for owner, body in [("", tree.body), *((f"{node.name}.", node.body) for node in classes)]:
        for statement, following in zip_longest(body, body[1:]):
            if isinstance(statement, ast.Assign) or (isinstance(statement, ast.AnnAssign) and not owner):
                yield statement, owner, _text(following)


def _text(statement: ast.stmt | None) -> str | None:
    match statement:
        case ast.Expr(value=ast.Constant(value=str(text))):
            return " ".join(text.split())
    return None


def _named(statement: ast.Assign | ast.AnnAssign, owner: str) -> Iterator[tuple[str, str]]:
    """Each name with the value that is given to it."""
    target = statement.targets[0] if isinstance(statement, ast.Assign) else statement.target
    value = statement.value
    assert value is not None
    if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
        for one, its in zip(target.elts, value.elts, strict=True):
            yield owner + ast.unparse(one), ast.unparse(its)
    else:
        yield owner + ast.unparse(target), ast.unparse(value)


def _has_number(statement: ast.Assign | ast.AnnAssign) -> bool:
    return any(map(_is_number, _outside_of_functions(statement)))


def _outside_of_functions(statement: ast.Assign | ast.AnnAssign) -> Iterator[ast.AST]:
    """What its value is made of, other than in a function of its own or as a place in a sequence."""
    waiting: list[ast.AST] = [] if statement.value is None else [statement.value]
    while waiting:
        node = waiting.pop()
        yield node
        if not isinstance(node, ast.Lambda | ast.Subscript):
            waiting += ast.iter_child_nodes(node)


def _is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float) and not isinstance(node.value, bool)


def _is_plain(node: ast.Constant, parents: dict[ast.AST, ast.AST]) -> bool:
    """Whether a number decides nothing: none, one, half, a pair, a place, digits, a conversion of units."""
    value, parent = node.value, parents[node]
    if value in HARMLESS or (value == HALF and isinstance(value, int)):
        return True
    match parent:
        case ast.BinOp(op=ast.Mult() | ast.Div()):
            return value == HALF or value in CONVERSIONS
        case ast.BinOp(op=ast.Pow()):
            return parent.right is node
        case ast.Subscript(slice=place):
            return place is node and value in FIRST_PLACES
        case ast.Call(func=ast.Name(id=name)):
            return node in parent.args[DIGITS.get(name, len(parent.args)) :]
    return False


def document() -> str:
    """THRESHOLDS.md."""
    lines, module = [INTRODUCTION], ""
    for each in constants():
        if each.module != module:
            module = each.module
            lines += ["", f"## {module}", "", "| name | value | unit | reason |", "|---|---|---|---|"]
        cells = (f"`{each.name}`", f"`{each.value}`", each.unit, each.reason)
        lines.append(f"| {' | '.join(cell.replace('|', '/') for cell in cells)} |")
    return "\n".join(lines) + "\n"
