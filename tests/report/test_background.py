"""What works in the background goes on after an error, and ends when it is told to."""

import threading

from halocline.report.background import Background


class Stumbling(Background):
    """Fails in its first turn."""

    def __init__(self):
        super().__init__("stumbling", 0.01)
        self.turns, self.again = 0, threading.Event()

    def turn(self):
        self.turns += 1
        if self.turns == 1:
            raise RuntimeError("at the first turn")
        self.again.set()
        return 60.0


def test_an_error_is_logged_and_the_next_turn_comes(caplog):
    work = Stumbling()
    work.start()
    assert work.again.wait(10.0)
    work.stop()
    assert "stumbling: a turn failed" in caplog.text
    assert "at the first turn" in caplog.text


def test_an_end_interrupts_the_wait_for_the_next_turn():
    work = Stumbling()
    work.start()
    assert work.again.wait(10.0)
    work.stop()
    assert "stumbling" not in {thread.name for thread in threading.enumerate()}
    assert work.turns == 2


def test_what_was_never_started_can_be_ended():
    Stumbling().stop()
