"""Who may give commands: the PIN, the sessions behind the cookie, and growing patience with wrong PINs."""

import hashlib
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace

from halocline.report.secrets import pin_matches

IDLE_S = 12 * 3600.0
ABSOLUTE_S = 7 * 86400.0
MAX_SESSIONS = 64
FREE_TRIES = 3
LONGEST_DELAY_S = 60.0
LONGEST_COMMON_DELAY_S = 2.0
FORGET_S = 3600.0
REMEMBER_S = 7 * 86400.0
MAX_ADDRESSES = 1000


@dataclass(frozen=True, slots=True)
class Session:
    """A person who has given the PIN: a name for the log, and when."""

    name: str
    address: str
    since_s: float
    seen_s: float
    stored: str

    @property
    def who(self) -> str:
        """How commands are signed."""
        return f"{self.name} ({self.address})" if self.name else self.address


@dataclass(frozen=True, slots=True)
class _Tries:
    wrong: int = 0
    last_s: float = 0.0

    def wait_s(self, now_s: float, longest_s: float) -> float:
        if self.wrong < FREE_TRIES:
            return 0.0
        delay_s = min(2.0 ** min(self.wrong - FREE_TRIES, 30), longest_s)
        return max(self.last_s + delay_s - now_s, 0.0)


class Guesses:
    """Wrong PINs, by address and together.

    The delay of one address grows to `LONGEST_DELAY_S`; that of all together only to `LONGEST_COMMON_DELAY_S`, so
    that a guesser slows the owner down a little but never locks anybody out; and an address that has brought the right
    PIN within `REMEMBER_S` does not wait for the others at all.
    """

    def __init__(self) -> None:
        self._known: OrderedDict[str, float] = OrderedDict()
        self._by_address: OrderedDict[str, _Tries] = OrderedDict()
        self._common = _Tries()

    def wait_s(self, address: str, now_s: float) -> float:
        """How long this address has to wait before the next try."""
        own = self._by_address.get(address, _Tries()).wait_s(now_s, LONGEST_DELAY_S)
        if now_s - self._known.get(address, -REMEMBER_S) < REMEMBER_S:
            return own
        return max(own, self._common.wait_s(now_s, LONGEST_COMMON_DELAY_S))

    def wrong(self, address: str, now_s: float) -> None:
        """A wrong PIN has come."""
        self._by_address[address] = self._one_more(self._by_address.pop(address, _Tries()), now_s)
        self._common = self._one_more(self._common, now_s)
        while len(self._by_address) > MAX_ADDRESSES:
            self._by_address.popitem(last=False)

    def right(self, address: str, now_s: float) -> None:
        """The PIN has come: this address starts afresh, and is known."""
        self._by_address.pop(address, None)
        self._known.pop(address, None)
        self._known[address] = now_s
        while len(self._known) > MAX_SESSIONS:
            self._known.popitem(last=False)

    def _one_more(self, tries: _Tries, now_s: float) -> _Tries:
        wrong = 0 if now_s - tries.last_s > FORGET_S else tries.wrong
        return _Tries(wrong + 1, now_s)


class PinWrongError(Exception):
    """The PIN does not match."""


class PinWaitError(Exception):
    """No PIN is looked at before `seconds` have passed."""

    def __init__(self, seconds: float) -> None:
        super().__init__(f"wait {seconds:.0f} s")
        self.seconds = seconds


class NoPinError(Exception):
    """No PIN is set."""


class Sessions:
    """Opens, finds and ends sessions. `stored_pin` gives the hash of the PIN in force; when it changes, every
    session opened with the former one is over. Thread-safe; the expensive hash is computed one at a time."""

    def __init__(self, stored_pin: Callable[[], str | None], clock: Callable[[], float]) -> None:
        self._stored_pin = stored_pin
        self._clock = clock
        self._sessions: OrderedDict[str, Session] = OrderedDict()
        self._guesses = Guesses()
        self._lock = threading.Lock()
        self._hashing = threading.Lock()

    @property
    def pin_set(self) -> bool:
        """Whether there is a PIN at all."""
        return self._stored_pin() is not None

    def check_pin(self, pin: str, address: str) -> str:
        """The hash that `pin` was found to match. Raises NoPinError, PinWaitError, PinWrongError."""
        stored = self._stored_pin()
        if stored is None:
            raise NoPinError
        with self._hashing:
            wait_s = self._guesses.wait_s(address, self._clock())
            if wait_s > 0:
                raise PinWaitError(wait_s)
            if not pin_matches(pin, stored):
                self._guesses.wrong(address, self._clock())
                raise PinWrongError
            self._guesses.right(address, self._clock())
        return stored

    def open(self, pin: str, name: str, address: str) -> str:
        """A new session's token. Raises what `check_pin` raises."""
        stored = self.check_pin(pin, address)
        token = secrets.token_urlsafe(32)
        now_s = self._clock()
        with self._lock:
            self._sessions[_key(token)] = Session(name, address, now_s, now_s, stored)
            while len(self._sessions) > MAX_SESSIONS:
                self._sessions.popitem(last=False)
        return token

    def find(self, token: str | None) -> Session | None:
        """The session of a token that is still good; using it keeps it from idling out."""
        if not token:
            return None
        now_s = self._clock()
        with self._lock:
            session = self._sessions.get(_key(token))
            if session is None:
                return None
            over = now_s - session.seen_s > IDLE_S or now_s - session.since_s > ABSOLUTE_S
            if over or session.stored != self._stored_pin():
                del self._sessions[_key(token)]
                return None
            self._sessions[_key(token)] = session = replace(session, seen_s=now_s)
            self._sessions.move_to_end(_key(token))
            return session

    def close(self, token: str | None) -> None:
        """Ends a session for good."""
        if token:
            with self._lock:
                self._sessions.pop(_key(token), None)


def _key(token: str) -> str:
    """Tokens are not kept, only what they hash to."""
    return hashlib.sha256(token.encode()).hexdigest()
