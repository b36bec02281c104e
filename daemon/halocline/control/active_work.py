"""What is under way and counted: a run, a flush, an output tried on the bench."""

from halocline.control.inputs import Reason
from halocline.control.run import Flush, Run


class ActiveWork:
    """At most one of each. bench: the output on trial, and for how many seconds."""

    def __init__(self) -> None:
        self.run: Run | None = None
        self.flush: Flush | None = None
        self.bench: tuple[str, float] | None = None

    def begin_run(self, run: Run) -> None:
        """From the accepted start on."""
        self.run = run

    def explain_end(self, by: Reason) -> None:
        """Why the run ends, told as the stop begins: what comes after it is not the reason."""
        if self.run is not None:
            self.run.end(by)

    def close_run(self) -> None:
        """Nothing more is counted to the run."""
        self.run = None

    def begin_flush(self, flush: Flush) -> None:
        """From the state on that opens the valve."""
        self.flush = flush

    def close_flush(self) -> None:
        """Nothing more is counted to the flush."""
        self.flush = None

    def begin_trial(self, output: str, seconds: float) -> None:
        """A person tries an output."""
        self.bench = (output, seconds)
