"""What a command cannot do, in one clear line a problem."""

from collections.abc import Iterable


class Unusable(Exception):
    """Ends the command; `exit_status` 2 for unusable input, 1 for a refusal."""

    def __init__(self, lines: Iterable[str] | str, exit_status: int = 2) -> None:
        self.lines = [lines] if isinstance(lines, str) else list(lines)
        self.exit_status = exit_status
        super().__init__("; ".join(self.lines))
