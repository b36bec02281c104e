"""`halocline report`: the process that serves the page and keeps the record."""

import argparse
from typing import Any

from halocline.app.report import serve
from halocline.cli.errors import Unusable
from halocline.cli.process_options import add_process, data_of, port, say, socket_of
from halocline.report.server import ReportError


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    report = subparsers.add_parser("report", help="the process that serves the page and keeps the record")
    add_process(report)
    report.add_argument("--port", type=port, default=None, help="port of the page (default: the configured one)")
    report.set_defaults(handler=_report)


def _report(arguments: argparse.Namespace) -> int:
    try:
        return serve(
            arguments.config,
            data_dir=data_of(arguments),
            socket_path=socket_of(arguments),
            port=arguments.port,
            simulated=arguments.simulated,
            say=say,
        )
    except ReportError as error:
        raise Unusable(str(error)) from error
