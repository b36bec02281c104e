"""What the documents say of the commands is what their definitions say."""

from pathlib import Path

import pytest

from halocline.report.documents import DOCUMENTS


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)
def test_a_document_is_what_the_definitions_say(path: Path) -> None:
    now = path.read_text(encoding="utf-8")
    assert DOCUMENTS[path](now) == now, "stale: run `make docs`"
