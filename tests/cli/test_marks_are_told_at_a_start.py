"""Who starts by command line is told what a person marked of the water here."""

import argparse
import time

from halocline.cli.orders import _marked
from halocline.report.feed import RECORD_NAME
from halocline.report.planning.foreseen import NAME, Foreseen


def test_a_mark_in_the_boats_folder_is_told_and_a_folder_that_is_not_there_tells_nothing(tmp_path):
    (tmp_path / RECORD_NAME).touch()
    Foreseen(tmp_path / NAME, None).forbid("bloom", 6, time.time(), "Horta")
    (said,) = _marked(argparse.Namespace(data=tmp_path))
    assert said.startswith("Make no water here: algal bloom at Horta, marked until ")
    assert _marked(argparse.Namespace(data=tmp_path / "nowhere")) == []
