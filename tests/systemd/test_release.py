"""What `make release` makes sure of before and after it builds."""

import importlib.util
import json
import subprocess
import tomllib
import zipfile
from pathlib import Path

import pytest

import halocline

ROOT = Path(__file__).parents[2]


@pytest.fixture
def release():
    spec = importlib.util.spec_from_file_location("release", ROOT / ".ci" / "release.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def tree(release, tmp_path, monkeypatch):
    """A repository of its own with one commit."""
    (tmp_path / "daemon/halocline").mkdir(parents=True)
    (tmp_path / "daemon/halocline/__init__.py").write_text('__version__ = "2.0.0"\n')
    (tmp_path / "CHANGELOG.md").write_text("# Changes\n\n## 2.0.0, 1 May\n\n- New.\n\n## 1.0.0\n\n- Old.\n")
    monkeypatch.setattr(release, "ROOT", tmp_path)
    monkeypatch.setattr(release, "CHANGES", tmp_path / "CHANGELOG.md")
    monkeypatch.setattr(release, "DIST", tmp_path / "dist")

    def git(*arguments):
        own = ["-c", "user.name=Test", "-c", "user.email=test@example.org"]
        subprocess.run(["git", *own, *arguments], cwd=tmp_path, check=True, capture_output=True)

    git("init")
    git("add", ".")
    git("commit", "-m", "All")
    return tmp_path, git


def test_the_version_stands_in_one_place(release):
    assert release.version() == halocline.__version__
    assert "version" not in json.loads((ROOT / "web/package.json").read_text("utf-8"))
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert "version" not in project
    assert project["dynamic"] == ["version"]


def test_what_changed_is_written_down_for_this_version(release):
    title, text = release.section(release.CHANGES.read_text("utf-8"), release.version())
    assert title.startswith(halocline.__version__)
    assert text.startswith("- ")


def test_a_committed_tree_with_its_changes_may_be_released(release, tree):
    assert list(release.objections()) == []
    told = release.notes("2.0.0")
    assert told.startswith("# Halocline 2.0.0, 1 May\n")
    assert "- New." in told
    assert "- Old." not in told


def test_each_thing_against_a_release_is_one_line(release, tree):
    folder, git = tree
    git("tag", "v2.0.0")
    assert list(release.objections()) == []
    (folder / "CHANGELOG.md").write_text("# Changes\n\n## 2.0.0.1\n")
    assert [line.split()[0:3] for line in release.objections()] == [
        ["there", "are", "changes"],
        ["CHANGELOG.md", "has", "no"],
    ]
    git("commit", "-am", "More")
    assert ["was released from another commit" in line for line in release.objections()] == [False, True]


def test_a_file_of_another_version_is_not_released(release, tree):
    folder, _ = tree
    (folder / "dist").mkdir()
    with zipfile.ZipFile(folder / "dist/halocline-1.0.0-py3-none-any.whl", "w") as wheel:
        wheel.writestr("halocline-1.0.0.dist-info/METADATA", "Name: halocline\nVersion: 1.0.0\n")
    with pytest.raises(SystemExit, match="not a wheel, a source archive, packages"):
        release.built("2.0.0")
    (folder / "dist/z.tar.gz").touch()
    (folder / "dist/z.deb").touch()
    with pytest.raises(SystemExit, match=r"halocline-1.0.0-py3-none-any.whl is of version 1.0.0, not 2.0.0"):
        release.built("2.0.0")


def test_what_does_not_run_is_not_released(release):
    with pytest.raises(SystemExit, match=r"(?s)nothing: halocline --version: .*No module named 'halocline'"):
        release.try_out("nothing", "/usr/bin/python3", ["/nowhere"])
