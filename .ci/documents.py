"""Writes every document that is made from the code."""

import runpy

for module in ("halocline.config.reference", "halocline.control.documents"):
    runpy.run_module(module, run_name="__main__")
