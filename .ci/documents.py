"""Writes every document that is made from the code."""

import runpy
import sys

for module, arguments in (
    ("halocline.config.reference", []),
    ("halocline.config.wiring_table", ["--write"]),
    ("halocline.control.documents", []),
):
    sys.argv = [module, *arguments]
    try:
        runpy.run_module(module, run_name="__main__")
    except SystemExit as ended:
        if ended.code:
            raise
