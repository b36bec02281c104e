"""What `make release` asks before it builds, and does with what was built: try it, describe it, sum it up.

.ci/release.py before    may this be released? one line for each thing that stands against it
.ci/release.py after     try wheel and package of this computer; upgrade notes and checksums into dist/
"""

import hashlib
import re
import subprocess
import sys
import sysconfig
import tarfile
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
DIST = ROOT / "dist"
CHANGES = ROOT / "CHANGELOG.md"
SUMS = "SHA256SUMS"
VERSION_LINE = re.compile(r'^__version__ = "(.+)"$', re.MULTILINE)
TRIED = (
    ("--version",),
    ("check", "--simulated", "--hands-off", "--data", "{folder}"),
    ("rehearse", "{root}/tests/rehearsals/run_by_litres.toml"),
)
PROGRAM = """
import sys
sys.path[:0] = {paths!r}
import halocline
assert halocline.__file__.startswith({paths!r}[0]), halocline.__file__
import halocline.report.http.schema
from halocline.report.http.page import find_page
assert find_page() is not None, "the page is missing"
from halocline.cli.main import main
sys.exit(main(sys.argv[1:]))
"""


def git(*arguments: str) -> str:
    """What git says."""
    return subprocess.run(["git", *arguments], cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()


def version() -> str:
    """The one place where the version stands."""
    found = VERSION_LINE.search((ROOT / "daemon/halocline/__init__.py").read_text("utf-8"))
    if found is None:
        raise SystemExit("release: daemon/halocline/__init__.py names no __version__")
    return found[1]


def section(changes: str, wanted: str) -> tuple[str, str] | None:
    """The title and the text of a version's section in the list of changes."""
    found = re.search(rf"^## ({re.escape(wanted)}(?![\w.])[^\n]*)\n(.*?)(?=^## |\Z)", changes, re.MULTILINE | re.DOTALL)
    return None if found is None else (found[1], found[2].strip())


def objections() -> Iterator[str]:
    """What stands against a release of this tree."""
    now = version()
    if git("status", "--porcelain"):
        yield "there are changes that no commit has: what is released is what was tested; commit them first"
    if section(CHANGES.read_text("utf-8"), now) is None:
        yield f"CHANGELOG.md has no section for {now}: say what a person who upgrades has to know"
    tagged = git("tag", "--list", f"v{now}")
    if tagged and git("rev-list", "-n1", tagged) != git("rev-parse", "HEAD"):
        yield f"{now} was released from another commit ({tagged}): raise __version__ in daemon/halocline/__init__.py"


def notes(now: str) -> str:
    """What a person reads before the download is installed."""
    found = section(CHANGES.read_text("utf-8"), now)
    if found is None:
        raise SystemExit(f"release: CHANGELOG.md has no section for {now}")
    return f"""# Halocline {found[0]}

Made from commit {git("rev-parse", "--short=12", "HEAD")}. Check the download: `sha256sum -c --ignore-missing {SUMS}`.

Which package: `arm64` for a Raspberry Pi with a 64-bit system, `amd64` for a PC; `deb12` for Debian 12 and Raspberry Pi
OS of the same age, `deb13` for Debian 13. Upgrade with the plant at rest: `sudo apt install ./halocline_….deb`, then
`sudo halocline check`. Record, configuration, calibrations and what is owed stay. To go back, install the earlier
package; if the record was changed, it says so and names the copy that was made before.

## What changed

{found[1]}
"""


def built(now: str) -> list[Path]:
    """All that is to be downloaded. Raises SystemExit if something is missing or is of another version."""
    files = sorted(path for path in DIST.iterdir() if path.suffix in {".whl", ".gz", ".deb"})
    kinds = [path.suffix for path in files]
    if kinds.count(".whl") != 1 or kinds.count(".gz") != 1 or ".deb" not in kinds:
        found = ", ".join(path.name for path in files)
        raise SystemExit(f"release: dist/ holds {found}, not a wheel, a source archive, packages")
    for path in files:
        if version_in(path) != now:
            raise SystemExit(f"release: {path.name} is of version {version_in(path)}, not {now}")
    return files


def version_in(path: Path) -> str:
    """The version that a file itself names."""
    if path.suffix == ".deb":
        said = subprocess.run(["dpkg-deb", "-f", path, "Version"], capture_output=True, text=True, check=True).stdout
        return said.strip().partition("+deb")[0]
    if path.suffix == ".whl":
        with zipfile.ZipFile(path) as wheel:
            name = next(name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
            told = wheel.read(name).decode()
    else:
        with tarfile.open(path) as archive:
            file = archive.extractfile(f"{path.name.removesuffix('.tar.gz')}/PKG-INFO")
            told = "" if file is None else file.read().decode()
    return next(line.partition(": ")[2] for line in told.splitlines() if line.startswith("Version: "))


def try_out(what: str, python: str, paths: list[str]) -> None:
    """Run the program from these paths alone. Raises SystemExit with what it said."""
    with tempfile.TemporaryDirectory() as folder:
        for command in TRIED:
            arguments = [part.format(folder=folder, root=ROOT) for part in command]
            program = PROGRAM.format(paths=paths)
            done = subprocess.run(
                [python, "-I", "-S", "-c", program, *arguments], cwd=folder, capture_output=True, text=True, check=False
            )
            if done.returncode:
                raise SystemExit(f"release: {what}: halocline {' '.join(arguments)}: {done.stdout}{done.stderr}")
    print(f"{what}: tried")


def try_all(files: list[Path]) -> None:
    """The wheel with the packages of this tree; each package for this computer with nothing but itself."""
    own = subprocess.run(["dpkg", "--print-architecture"], capture_output=True, text=True, check=True).stdout.strip()
    for path in files:
        with tempfile.TemporaryDirectory() as folder:
            if path.suffix == ".whl":
                zipfile.ZipFile(path).extractall(folder)
                try_out(path.name, sys.executable, [folder, sysconfig.get_path("purelib")])
            elif path.suffix == ".deb":
                subprocess.run(["dpkg-deb", "-x", path, folder], check=True)
                (site,) = Path(folder).glob("opt/halocline/lib/python3*/site-packages")
                python = Path("/usr/bin", site.parent.name)
                if path.stem.endswith(f"_{own}") and python.exists():
                    try_out(path.name, str(python), [str(site)])
                else:
                    print(f"{path.name}: not tried, for it is for another computer or Python")


def main(step: str) -> None:
    """Before, or after."""
    if step == "before":
        against = list(objections())
        for line in against:
            print(f"release: {line}", file=sys.stderr)
        raise SystemExit(1 if against else 0)
    now = version()
    files = built(now)
    try_all(files)
    told = DIST / f"halocline-{now}-notes.md"
    told.write_text(notes(now), "utf-8")
    sums = "".join(f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.name}\n" for path in [*files, told])
    (DIST / SUMS).write_text(sums, "utf-8")
    print(sums, end="")


if __name__ == "__main__":
    main(sys.argv[1])
