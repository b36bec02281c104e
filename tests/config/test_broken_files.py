"""Every file in `broken/` is refused with exactly the lines its first comments expect."""

from collections.abc import Callable
from pathlib import Path

import pytest

from halocline.config import ConfigError, load_control, load_report, problems_in

BROKEN = sorted((Path(__file__).parent / "broken").glob("*.toml"))
MARK = "# expect: "


def expected(path: Path) -> list[str]:
    lines = path.read_bytes().decode(errors="replace").splitlines()
    return [line.removeprefix(MARK).replace("FILE", str(path), 1) for line in lines if line.startswith(MARK)]


def test_there_are_enough_broken_files_and_each_says_what_it_expects() -> None:
    assert len(BROKEN) >= 24
    assert [path.name for path in BROKEN if not expected(path)] == []


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_a_broken_file_is_refused_with_exactly_these_lines(path: Path) -> None:
    assert [str(problem) for problem in problems_in(path)] == expected(path)


def refused_by(load: Callable[[Path], object], path: Path) -> list[str]:
    try:
        load(path)
    except ConfigError as error:
        return str(error).splitlines()
    return []


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_the_processes_refuse_between_them_what_is_expected(path: Path) -> None:
    control, report = refused_by(load_control, path), refused_by(load_report, path)
    assert control + [line for line in report if line not in control] == expected(path)


def test_control_starts_whatever_is_wrong_with_reports_tables() -> None:
    path = Path(__file__).parent / "broken" / "report_tables.toml"
    assert load_control(path).boat.name == "Cagarra"


def test_report_starts_whatever_is_wrong_with_controls_tables() -> None:
    path = Path(__file__).parent / "broken" / "ladder_upside_down.toml"
    assert load_report(path).http.port == 8080
