import io
import os

import pytest

from halocline.cli import secret
from halocline.cli.main import main
from halocline.report import secrets
from halocline.report.server import SECRETS_NAME


@pytest.fixture
def given(monkeypatch):
    """Standard input that is no terminal."""
    return lambda text: monkeypatch.setattr("sys.stdin", io.StringIO(text))


def test_without_a_terminal_and_without_a_pin_it_says_how_to_give_it(given, tmp_path, capsys):
    given("")
    assert main(["pin", "--data", str(tmp_path)]) == 2
    said = capsys.readouterr().err
    assert "no PIN was given" in said
    assert "| halocline pin" in said
    assert not (tmp_path / SECRETS_NAME).exists()


def test_without_any_standard_input_it_says_the_same(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr("sys.stdin", None)
    assert main(["pin", "--data", str(tmp_path)]) == 2
    assert "| halocline pin" in capsys.readouterr().err


def test_an_end_of_input_at_the_terminal_changes_nothing(monkeypatch, tmp_path, capsys):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    def end(_prompt):
        raise EOFError

    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr(secret.getpass, "getpass", end)
    assert main(["pin", "--data", str(tmp_path)]) == 2
    assert "no PIN was given" in capsys.readouterr().err
    assert not (tmp_path / SECRETS_NAME).exists()


def test_a_pin_may_come_through_a_pipe(given, tmp_path):
    given("730194\n")
    assert main(["pin", "--data", str(tmp_path)]) == 0
    assert secrets.pin_hash(tmp_path / SECRETS_NAME)


def test_aboard_it_is_set_where_the_service_looks(given, tmp_path, monkeypatch):
    monkeypatch.setattr(secret, "SYSTEM_STATE", tmp_path)
    given("730194\n")
    assert main(["pin"]) == 0
    assert secrets.pin_hash(tmp_path / SECRETS_NAME)


def test_whoever_sets_it_the_folders_owner_can_read_it(given, tmp_path, monkeypatch):
    """Who types `sudo halocline pin` is root; the service is not."""
    given_to = []
    monkeypatch.setattr(os, "chown", lambda path, uid, gid: given_to.append((path.parent, uid, gid)))
    folder = tmp_path / "data"
    folder.mkdir()
    given("730194\n")
    assert main(["pin", "--data", str(folder)]) == 0
    assert given_to == [(folder, folder.stat().st_uid, folder.stat().st_gid)]


def test_a_folder_that_is_not_ones_own_says_so(given, tmp_path, capsys, monkeypatch):
    def refuse(*_arguments):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    given("730194\n")
    assert main(["pin", "--data", str(tmp_path)]) == 2
    assert "put before the command: sudo" in capsys.readouterr().err
