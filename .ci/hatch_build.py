"""Puts the built page into the wheel; an editable install serves it from the checkout."""

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class PageHook(BuildHookInterface):
    """Adds web/dist to the package, or says what to do when it is not there."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Called by hatchling before a build."""
        if version == "editable" or self.target_name != "wheel":
            return
        page = Path(self.root) / "web" / "dist"
        if not (page / "index.html").is_file():
            raise RuntimeError("the page is not built; run `make wheel`, or `npm ci && npm run build` in web/")
        build_data["force_include"][str(page)] = "halocline/web"
