"""What `halocline check` looks at besides configuration and wiring: computer, card, rights, services, record …"""

from halocline.app.checkup.card import card_lines
from halocline.app.checkup.computer import computer_lines, released_line
from halocline.app.checkup.lines import Line, as_message, as_text, count
from halocline.app.checkup.record import broker_lines, record_lines, record_mb
from halocline.app.checkup.rights import rights_lines
from halocline.app.checkup.services import is_a_boats, package_lines, service_lines
from halocline.app.checkup.system import System
from halocline_hw.wiring import I2C_BUS

BUS = I2C_BUS

__all__ = [
    "BUS",
    "Line",
    "System",
    "as_message",
    "as_text",
    "broker_lines",
    "card_lines",
    "computer_lines",
    "count",
    "is_a_boats",
    "package_lines",
    "record_lines",
    "record_mb",
    "released_line",
    "rights_lines",
    "service_lines",
]
