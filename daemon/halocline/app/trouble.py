"""An operating system's error as one line a person can act on."""


def in_words(error: OSError) -> str:
    """What went wrong and with which file, without the system's number for it."""
    if error.strerror is None:
        return str(error)
    return error.strerror if error.filename is None else f"{error.filename}: {error.strerror}"
