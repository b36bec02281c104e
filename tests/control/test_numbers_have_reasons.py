"""No number decides anything in control and signals without a name, a reason and what that rests on (as alarm
rationalisation asks, IEC 62682); and the same number is not defined twice."""

from collections import defaultdict

import pytest

from halocline.plant.rationale import ROOT, UNITS, bare, constants, files

EVERYWHERE = [pytest.param(file, id=file.relative_to(ROOT).as_posix()) for file in files()]


@pytest.mark.parametrize("file", EVERYWHERE)
def test_every_number_has_a_reason(file):
    assert bare(file.relative_to(ROOT).as_posix(), file.read_text("utf-8")) == []


def test_all_of_control_and_signals_is_looked_at():
    looked_at = {file.relative_to(ROOT).parts[0] for file in files()}
    assert looked_at == {"plant", "control", "signals"}
    assert {"control/loop.py", "control/alarm_conditions/water.py", "signals/signal_validation.py"} <= {
        each.module for each in constants()
    }


def test_a_name_stands_for_one_thing():
    where = defaultdict(set)
    for each in constants():
        where[each.name].add((each.module, each.value))
    assert {name: places for name, places in where.items() if len(places) > 1 and name not in EACH_ITS_OWN} == {}


EACH_ITS_OWN = {"VERSION"}
"""Every file has one of its own."""


BARE = {
    "a constant": ("GONE_BAR = 5.0\n", "x.py:1: GONE_BAR has no reason"),
    "two at once": ("LOW_BAR, HIGH_BAR = 1.0, 2.0\n", "x.py:1: LOW_BAR, HIGH_BAR has no reason"),
    "a typed constant": ("GONE_BAR: float = 5.0\n", "x.py:1: GONE_BAR has no reason"),
    "a reason that rests on nothing": (
        'GONE_BAR = 5.0\n"""It is gone."""\n',
        "x.py:1: GONE_BAR: the reason does not",
    ),
    "a table": ('AGE_S = {"a": 0.15}\n', "x.py:1: AGE_S has no reason"),
    "of a class": ("class Guard:\n    LARGE = 0.5\n", "x.py:2: Guard.LARGE has no reason"),
    "a comparison": ("def over(bar):\n    return bar > 5.0\n", "x.py:2: a bare 5.0"),
    "a delay that looks like a pair": ("def late(seconds):\n    return seconds >= 2.0\n", "x.py:2: a bare 2.0"),
    "a minute": ("def late(seconds):\n    return seconds > 60\n", "x.py:2: a bare 60"),
    "a share": ("def share(litres):\n    return 0.25 * litres\n", "x.py:2: a bare 0.25"),
    "a default": ("def jog(seconds=3.0):\n    return seconds\n", "x.py:1: a bare 3.0"),
    "a field": ("class Run:\n    left_s: float = 1800.0\n", "x.py:2: a bare 1800.0"),
    "in a table's function": ("T = {'a': lambda bar: bar > 5.0}\n", "x.py:1: a bare 5.0"),
    "a length": ("def cut(text):\n    return text[:80]\n", "x.py:2: a bare 80"),
    "steps": ("def halve():\n    return range(8)\n", "x.py:2: a bare 8"),
}


@pytest.mark.parametrize(("source", "found"), BARE.values(), ids=BARE)
def test_a_bare_number_is_found(source, found):
    (line,) = bare("x.py", source)
    assert line.startswith(found)


PLAIN = {
    "a constant with its reason": 'GONE_BAR = 5.0\n"""Above what a feed pump makes (chosen)."""\n',
    "a standard": 'LOW_MA = 4.0\n"""Zero of a current loop (IEC 60381-1)."""\n',
    "none, one, half": "def f(x, since_s=-1.0):\n    return max(0.0, x / 2.0) + 1\n",
    "a pair": "def f(x):\n    return len(x) == 2 and x[0] < x[1]\n",
    "digits": "def f(x):\n    return round(x, 3), int(x, 16)\n",
    "units": "def f(l_h, s):\n    return l_h * s / 3600\n",
    "a power": "def f(x):\n    return x**0.5\n",
}


@pytest.mark.parametrize("source", PLAIN.values(), ids=PLAIN)
def test_what_decides_nothing_needs_no_reason(source):
    assert bare("x.py", source) == []


def test_a_unit_is_read_from_the_end_of_a_name():
    units = {each.name: each.unit for each in constants()}
    wanted = {"GONE_BAR": "bar", "STEADY_BAR_S": "bar/s", "LEAST_FLUSH_L_H": "L/h", "RISING_MG_L": "mg/L", "BURSTS": ""}
    assert {name: units[name] for name in wanted} == wanted
    assert set(units.values()) - {""} <= set(UNITS.values())
