"""Prints the API's OpenAPI document: `python -m halocline.report.http.schema`."""

import json
import sys
import time
from pathlib import Path
from typing import Any

from halocline.plant.settings import HttpSettings, RecordSettings, UnitSettings
from halocline.report.feed import Feed
from halocline.report.http.app import build_api
from halocline.report.http.context import Context
from halocline.report.http.sessions import Sessions
from halocline.report.public import Frame


def document() -> dict[str, Any]:
    """The OpenAPI document."""
    units = UnitSettings()
    feed = Feed("", Path(), Frame("", units), RecordSettings())
    context = Context(feed, Sessions(lambda: None, time.monotonic), HttpSettings(), units)
    return build_api(context).openapi()


if __name__ == "__main__":
    json.dump(document(), sys.stdout, indent=2, ensure_ascii=False, sort_keys=True)
    sys.stdout.write("\n")
