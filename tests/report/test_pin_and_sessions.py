import os
import stat
import tomllib

import pytest

from halocline.report.http.sessions import (
    ABSOLUTE_S,
    IDLE_S,
    Guesses,
    NoPinError,
    PinWaitError,
    PinWrongError,
    Sessions,
)
from halocline.report.secrets import (
    SecretsError,
    hash_pin,
    pin_hash,
    pin_matches,
    random_pin,
    read_secrets,
    set_pin,
    set_secret,
)

PIN = "482913"


class Clock:
    now_s = 1000.0

    def __call__(self):
        return self.now_s


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture(scope="module")
def stored():
    return hash_pin(PIN)


@pytest.fixture
def sessions(stored, clock):
    return Sessions(lambda: stored, clock)


def test_a_pin_is_stored_as_a_salted_hash_only(tmp_path):
    path = tmp_path / "report.secrets.toml"
    set_pin(path, PIN)
    assert PIN not in path.read_text()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    stored = pin_hash(path)
    assert pin_matches(PIN, stored)
    assert not pin_matches("482914", stored)
    assert hash_pin(PIN) != stored


def test_other_secrets_in_the_file_stay(tmp_path):
    path = tmp_path / "report.secrets.toml"
    set_secret(path, "mqtt", "password", 'a "quoted" \\ one\n\x01')
    set_pin(path, PIN)
    assert tomllib.loads(path.read_text())["mqtt"]["password"] == 'a "quoted" \\ one\n\x01'
    assert [entry.name for entry in tmp_path.iterdir()] == ["report.secrets.toml"]


@pytest.mark.parametrize(
    ("pin", "problem"),
    [
        ("12345", "A PIN has 6 to 32 digits and nothing else."),
        ("48291a", "A PIN has 6 to 32 digits and nothing else."),
        ("٤٨٢٩١٣", "A PIN has 6 to 32 digits and nothing else."),
        ("4829130\n", "A PIN has 6 to 32 digits and nothing else."),
        ("000000", "This PIN is guessed first. Take digits that neither repeat nor count."),
        ("345678", "This PIN is guessed first. Take digits that neither repeat nor count."),
    ],
)
def test_a_poor_pin_is_refused(pin, problem):
    with pytest.raises(SecretsError) as refusal:
        hash_pin(pin)
    assert str(refusal.value) == problem


def test_a_file_of_secrets_that_cannot_be_understood_is_explained(tmp_path):
    path = tmp_path / "report.secrets.toml"
    path.write_text("pin = [")
    with pytest.raises(SecretsError, match="is not TOML"):
        read_secrets(path)
    path.write_text("[http]\npin = 5\n")
    with pytest.raises(SecretsError, match=r"\[http\] has to be a table of texts$"):
        read_secrets(path)
    assert read_secrets(tmp_path / "none.toml") == {}
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(SecretsError, match=r"cannot be read: it is a pipe, not a regular file$"):
        read_secrets(tmp_path / "pipe.toml")


def test_a_hash_that_is_none_matches_nothing():
    assert not pin_matches(PIN, "plain$482913")
    assert not pin_matches(PIN, "")


def test_made_up_pins_are_good_enough_to_be_stored():
    assert len({random_pin() for _ in range(50)}) > 45
    assert pin_matches("00000000", hash_pin(random_pin())) is False


def test_a_session_is_found_by_its_token_until_it_is_closed(sessions):
    token = sessions.open(PIN, "Ana", "192.168.1.20")
    assert sessions.find(token).who == "Ana (192.168.1.20)"
    assert sessions.find(token + "x") is None
    assert sessions.find(None) is None
    sessions.close(token)
    assert sessions.find(token) is None


def test_a_session_idles_out_and_has_a_longest_life(sessions, clock):
    idle = sessions.open(PIN, "", "a")
    clock.now_s += IDLE_S + 1
    assert sessions.find(idle) is None
    used = sessions.open(PIN, "", "a")
    for _ in range(int(ABSOLUTE_S // IDLE_S)):
        clock.now_s += IDLE_S - 1
        assert sessions.find(used).who == "a"
    clock.now_s += IDLE_S - 1
    assert sessions.find(used) is None


def test_a_new_pin_ends_the_sessions_of_the_old_one(clock, stored):
    current = [stored]
    sessions = Sessions(lambda: current[0], clock)
    token = sessions.open(PIN, "", "a")
    current[0] = hash_pin("739105")
    assert sessions.find(token) is None
    with pytest.raises(PinWrongError):
        sessions.open(PIN, "", "a")


def test_without_a_pin_nobody_gets_in(clock):
    with pytest.raises(NoPinError):
        Sessions(lambda: None, clock).open(PIN, "", "a")


def test_the_delay_grows_with_every_wrong_pin_and_even_the_right_one_has_to_wait(sessions, clock):
    waits = []
    for _ in range(11):
        with pytest.raises(PinWrongError):
            sessions.check_pin("000001", "thief")
        waits.append(sessions._guesses.wait_s("thief", clock.now_s))
        if waits[-1]:
            with pytest.raises(PinWaitError) as wait:
                sessions.open(PIN, "", "thief")
            assert wait.value.seconds == waits[-1]
        clock.now_s += waits[-1]
    assert waits == [0, 0, 1, 2, 4, 8, 16, 32, 60, 60, 60]
    assert sessions.find(sessions.open(PIN, "Ana", "thief")) is not None


def test_a_guesser_never_locks_the_owner_out():
    guesses, now_s = Guesses(), 1000.0
    for _ in range(1000):
        guesses.wrong("thief", now_s)
    assert guesses.wait_s("thief", now_s) == 60.0
    assert guesses.wait_s("owner", now_s) == 2.0
    assert guesses.wait_s("owner", now_s + 2.0) == 0.0


def test_guessing_from_many_addresses_does_not_fill_the_memory():
    guesses = Guesses()
    for number in range(3000):
        guesses.wrong(f"10.0.{number // 256}.{number % 256}", 0.0)
    assert len(guesses._by_address) == 1000


def test_wrong_pins_are_forgotten_after_an_hour():
    guesses = Guesses()
    for _ in range(10):
        guesses.wrong("a", 0.0)
    guesses.wrong("a", 3700.0)
    assert guesses.wait_s("a", 3700.0) == 0.0
