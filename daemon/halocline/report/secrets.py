"""The PIN and the passwords: a file of its own, readable by report only."""

import hashlib
import hmac
import re
import secrets
import tomllib
from collections.abc import Mapping
from pathlib import Path

from halocline.plant.own_files import replace_whole
from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular

FILE_MODE = 0o640
LEAST_DIGITS = 6
MOST_DIGITS = 32
COST, BLOCK, LANES = 2**14, 8, 1

Tables = Mapping[str, Mapping[str, str]]


class SecretsError(Exception):
    """The PIN is not good enough, or the file cannot be read or written."""


def read_secrets(path: Path) -> Tables:
    """The tables of `path`, empty if there is no such file. Raises SecretsError."""
    try:
        tables = tomllib.loads(read_regular(path, OURS_MOST_BYTES).decode())
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise SecretsError(f"{path}: cannot be read: {error.strerror}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SecretsError(f"{path}: is not TOML: {error}") from None
    for name, table in tables.items():
        if not isinstance(table, dict) or not all(isinstance(value, str) for value in table.values()):
            raise SecretsError(f"{path}: [{name}] has to be a table of texts")
    return tables


def pin_hash(path: Path) -> str | None:
    """The stored hash of the PIN, None if none is set. Raises SecretsError."""
    return read_secrets(path).get("http", {}).get("pin")


def set_pin(path: Path, pin: str) -> None:
    """Stores a new PIN beside whatever else the file holds. Raises SecretsError."""
    set_secret(path, "http", "pin", hash_pin(pin))


def set_secret(path: Path, table: str, key: str, value: str) -> None:
    """Stores one text; the file is replaced whole or not at all. Raises SecretsError."""
    tables = {name: dict(content) for name, content in read_secrets(path).items()}
    tables.setdefault(table, {})[key] = value
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_whole(path, _as_toml(tables).encode(), FILE_MODE)
    except PermissionError:
        raise SecretsError(f"{path}: is not yours to write; put before the command: sudo") from None
    except OSError as error:
        raise SecretsError(f"{path}: cannot be written: {error.strerror}") from None


def hash_pin(pin: str) -> str:
    """A salted scrypt hash. Raises SecretsError unless the PIN is `LEAST_DIGITS` or more digits."""
    if not re.fullmatch(rf"[0-9]{{{LEAST_DIGITS},{MOST_DIGITS}}}", pin):
        raise SecretsError(f"A PIN has {LEAST_DIGITS} to {MOST_DIGITS} digits and nothing else.")
    if _guessable(pin):
        raise SecretsError("This PIN is guessed first. Take digits that neither repeat nor count.")
    salt = secrets.token_bytes(16)
    return f"scrypt${COST}${BLOCK}${LANES}${salt.hex()}${_scrypt(pin, salt, COST, BLOCK, LANES).hex()}"


def pin_matches(pin: str, stored: str) -> bool:
    """Whether `pin` is the one that was hashed; a hash that cannot be read matches nothing."""
    try:
        kind, cost, block, lanes, salt, wanted = stored.split("$")
        found = _scrypt(pin, bytes.fromhex(salt), int(cost), int(block), int(lanes))
        return kind == "scrypt" and hmac.compare_digest(found, bytes.fromhex(wanted))
    except ValueError:
        return False


def random_pin() -> str:
    """Eight digits nobody can know."""
    while _guessable(pin := f"{secrets.randbelow(10**8):08d}"):
        continue
    return pin


def _guessable(pin: str) -> bool:
    return len(set(pin)) == 1 or pin in "01234567890123456789" or pin in "98765432109876543210"


def _scrypt(pin: str, salt: bytes, cost: int, block: int, lanes: int) -> bytes:
    return hashlib.scrypt(pin.encode(), salt=salt, n=cost, r=block, p=lanes, maxmem=64 * 1024 * 1024, dklen=32)


def _as_toml(tables: Tables) -> str:
    lines = ["# Written by halocline. Keep this file to yourself.\n"]
    for name, table in tables.items():
        lines.append(f"\n[{name}]\n")
        lines += (f"{key} = {_quoted(value)}\n" for key, value in table.items())
    return "".join(lines)


def _quoted(value: str) -> str:
    """A TOML basic string; control characters are written as escapes."""
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped) + '"'
