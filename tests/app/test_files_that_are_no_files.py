"""Whatever stands where a file of ours should be, whoever reads it comes back at once, and says what stands there."""

import ast
import os
import socket
import tracemalloc
from pathlib import Path

import pytest

from halocline.app import last_words
from halocline.cli.main import main
from halocline.config import ConfigError, load_control, load_report
from halocline.control.calibration import calibration_store
from halocline.control.retained import checked_file
from halocline.control.retained import retained_state as retained_file
from halocline.plant.regular_file import NotRegular, TooLarge, read_regular
from halocline.plant.settings import HttpSettings
from halocline.rehearsal import scenario
from halocline.report import write_ahead
from halocline.report.backup import restore
from halocline.report.database_open import StoreError
from halocline.report.history import history
from halocline.report.http.certificate import examine
from halocline.report.journal import Journal
from halocline.report.retention import Ballast
from halocline.report.salvage import salvage
from halocline.report.secrets import SecretsError, read_secrets
from halocline.report.store import Store

pytestmark = pytest.mark.timeout(20)

SPARSE_BYTES = 1_000_000_000
MOST_BYTES_HELD = 100_000_000


def bind(path):
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(str(path))


def sparse(path):
    with path.open("wb") as file:
        file.truncate(SPARSE_BYTES)


def dangling(path):
    path.symlink_to(path.with_name("not-there"))


KINDS = {
    "a pipe": os.mkfifo,
    "a link to a pipe": lambda path: (os.mkfifo(f"{path}.pipe"), path.symlink_to(f"{path}.pipe")),
    "/dev/zero": lambda path: path.symlink_to("/dev/zero"),
    "a folder": Path.mkdir,
    "a link to a folder": lambda path: path.symlink_to("/tmp"),
    "a socket": bind,
    "a link to itself": lambda path: path.symlink_to(path),
    "a file of 1 GB": sparse,
}
LINKS = {
    "a link to a good file": lambda path, good: path.symlink_to(good),
    "a link to nothing": lambda path, _good: dangling(path),
}


@pytest.fixture
def held():
    """Nothing is held in memory that is larger than any of our files."""
    tracemalloc.start()
    yield
    _, most_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most_bytes < MOST_BYTES_HELD


def refused(error, read):
    """What a reader that refuses says; it has to name the file."""

    def reading(path):
        with pytest.raises(error) as caught:
            read(path)
        assert str(path) in str(caught.value)
        assert "\n" not in str(caught.value)

    return reading


def assumes_the_worst_latch(path):
    assert retained_file.read(path) == retained_file.WORST


def refuses_starts(path):
    assert calibration_store.read(path).unreadable


def tells_nothing(path):
    assert last_words.read(path) == ()


def names_the_key(path):
    found = examine(HttpSettings(certificate=str(path), key=str(path)), "boat.toml", 0.0)
    assert {problem.key for problem in found.refused} == {"http.certificate", "http.key"}


def saves_nothing(path):
    salvage([path], path.with_name("saved.sqlite3"))


def reads_a_span(path):
    history(path, "vessel_pressure", 0.0, 600.0, 100)


READERS = {
    "latch": assumes_the_worst_latch,
    "calibrations": refuses_starts,
    "last words": tells_nothing,
    "secrets": refused(SecretsError, read_secrets),
    "control's configuration": refused(ConfigError, load_control),
    "report's configuration": refused(ConfigError, load_report),
    "scenario": refused(ConfigError, scenario.load),
    "certificate": names_the_key,
    "journal of the record": refused(OSError, lambda path: write_ahead.read(path.with_name(path.name[:-4]))),
    "copy to restore": refused(StoreError, lambda path: restore(path, path.with_name("record.sqlite3"))),
}
RECORDS = {
    "the record, read": refused(StoreError, lambda path: Journal(path).runs()),
    "the record's history": refused(StoreError, reads_a_span),
    "the record, written": refused(StoreError, Store),
    "the record, salvaged": refused(StoreError, saves_nothing),
}


EVERY = [(reader, kind) for reader in READERS | RECORDS for kind in KINDS]
# A damaged record may be as large as the card, and is read page by page; that takes its time.
EVERY.remove(("the record, salvaged", "a file of 1 GB"))


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize(("reader", "kind"), EVERY)
def test_a_reader_comes_back_and_says_what_is_there(tmp_path, kind, reader):
    path = tmp_path / "file-wal"
    KINDS[kind](path)
    (READERS | RECORDS)[reader](path)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "a file of 1 GB"])
@pytest.mark.parametrize("suffix", ["-wal", "-shm"])
def test_what_stands_beside_the_record_does_not_hold_up_its_readers(tmp_path, kind, suffix):
    record = tmp_path / "record.sqlite3"
    Store(record).close()
    KINDS[kind](tmp_path / f"record.sqlite3{suffix}")
    for read in (lambda: Journal(record).runs(), lambda: Store(record)):
        with pytest.raises(StoreError) as caught:
            read()
        assert f"record.sqlite3{suffix}" in str(caught.value)
    saved = salvage([record], tmp_path / "saved.sqlite3")
    assert saved.lost == 0


@pytest.mark.parametrize("kind", LINKS)
def test_what_control_must_remember_is_not_read_through_a_link(tmp_path, kind):
    good = tmp_path / "good"
    checked_file.write(good, retained_file.encode(retained_file.RetainedState()))
    retained, kept = tmp_path / "latch", tmp_path / "calibrations"
    LINKS[kind](retained, good)
    checked_file.write(good, calibration_store.encode(calibration_store.NONE))
    LINKS[kind](kept, good)
    assert retained_file.read(retained) == retained_file.WORST
    assert calibration_store.read(kept).unreadable


def test_what_people_name_may_be_a_link(tmp_path):
    good, link = tmp_path / "good", tmp_path / "link"
    good.write_bytes(b"content")
    link.symlink_to(good)
    assert read_regular(link, 100) == b"content"
    with pytest.raises(NotRegular, match="a link"):
        read_regular(link, 100, follow=False)


def test_a_file_is_read_up_to_its_bound_and_no_byte_further(tmp_path):
    path = tmp_path / "file"
    path.write_bytes(bytes(1000))
    assert len(read_regular(path, 1000)) == 1000
    with pytest.raises(TooLarge, match="1000 bytes, and at most 999"):
        read_regular(path, 999)


def test_a_file_that_says_it_is_empty_is_not_read_without_end():
    """What the kernel makes up has no size; /proc/self/smaps is some kB."""
    with pytest.raises(TooLarge):
        read_regular(Path("/proc/self/smaps"), 10)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if "folder" not in kind])
def test_what_stands_where_a_file_is_made_is_replaced(tmp_path, kind):
    """A folder there is an error that is told; the others would hold up the writer, or lead elsewhere."""
    KINDS[kind](tmp_path / "latch.new")
    checked_file.write(tmp_path / "latch.json", retained_file.encode(retained_file.RetainedState()))
    assert retained_file.read(tmp_path / "latch.json") == retained_file.RetainedState()
    KINDS[kind](tmp_path / "record.ballast.new")
    Ballast(tmp_path / "record.ballast").reserve()


def test_nothing_is_written_through_a_link(tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_bytes(b"not ours")
    (tmp_path / "latch.new").symlink_to(elsewhere)
    checked_file.write(tmp_path / "latch.json", retained_file.encode(retained_file.RetainedState()))
    assert elsewhere.read_bytes() == b"not ours"


@pytest.mark.parametrize("kind", ["a pipe", "/dev/zero", "a folder", "a socket"])
@pytest.mark.parametrize(
    "command", [["runs"], ["runs", "--holes"], ["export", "events"], ["backup"], ["salvage", "record.sqlite3"]]
)
def test_a_command_says_in_one_line_what_stands_in_the_place_of_the_record(tmp_path, capfd, kind, command):
    KINDS[kind](tmp_path / "record.sqlite3")
    assert main([*command, "--data", str(tmp_path)]) in (1, 2)
    (line,) = capfd.readouterr().err.splitlines()
    assert str(tmp_path / "record.sqlite3") in line
    assert "not a regular file" in line


PACKAGES = Path(last_words.__file__).parents[1]
HARDWARE = PACKAGES.parents[1] / "hw" / "halocline_hw"
READS = {
    "plant/regular_file.py": "the one reader",
    "plant/rationale.py": "the source, for a document made of it",
    "control/housekeeping.py": "the kernel's id of its start",
    "config/__init__.py": "the example that comes with the program",
    "config/wiring_table.py": "documents that come with the source",
    "report/documents.py": "documents that come with the program",
    "report/http/page.py": "the page that comes with the program",
    "report/pages.py": "a damaged record, page by page, once it is known for a file",
    "report/salvage.py": "the head of a copy of our own",
    "report/database_open.py": "a lock, opened by plant/own_files.py",
    "app/locks.py": "a lock, opened by plant/own_files.py",
    "report/record_copy.py": "a file or folder of our own, to put it on the card",
    "control/retained/checked_file.py": "a folder, to put it on the card",
}
"""Every module that opens something to read it, and what that is."""


def opens_to_read(call):
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    if name in ("read_bytes", "read_text"):
        return True
    if name not in ("open", "fdopen"):
        return False
    said = [ast.unparse(argument) for argument in (*call.args, *(keyword.value for keyword in call.keywords))]
    of_a_path = isinstance(call.func, ast.Attribute) and ast.unparse(call.func.value).endswith("path")
    return any(word.startswith("'r") or "O_RDONLY" in word for word in said) or (of_a_path and not said)


def test_no_other_module_opens_what_it_reads():
    found = {
        str(path.relative_to(root))
        for root in (PACKAGES, HARDWARE)
        for path in root.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and opens_to_read(node)
    }
    assert found == set(READS)
