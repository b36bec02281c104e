"""The documents that are drawn from the tables say what the tables say."""

import pytest

from halocline.control.documents import DOCUMENTS, FOLDER


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_document_is_what_its_table_says(name: str) -> None:
    assert (FOLDER / name).read_text(encoding="utf-8") == DOCUMENTS[name](), "stale: run `make docs`"
