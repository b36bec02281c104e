"""Writes every document that is made from the code."""

import runpy
import sys
from pathlib import Path

for module, arguments in (
    ("halocline.config.reference", []),
    ("halocline.config.wiring_table", ["--write"]),
    ("halocline.control.documents", []),
    ("halocline.report.documents", []),
):
    sys.argv = [module, *arguments]
    try:
        runpy.run_module(module, run_name="__main__")
    except SystemExit as ended:
        if ended.code:
            raise

for script in ("fixtures.py", "page_channels.py"):
    runpy.run_path(str(Path(__file__).with_name(script)), run_name="__main__")
