"""When each cause holds: one condition a row of `plant.alarms.ROWS`, under the same id, in files by what they look at.

Which states a row is armed in, how long it must hold, how far it must come back and what follows stand in the table.
"""

from collections.abc import Mapping

from halocline.control.conditions.boat import BOAT
from halocline.control.conditions.feed import FEED
from halocline.control.conditions.forms import Condition
from halocline.control.conditions.instruments import INSTRUMENTS
from halocline.control.conditions.pressure import PRESSURE
from halocline.control.conditions.rest import REST
from halocline.control.conditions.water import WATER

CONDITIONS: Mapping[str, Condition] = {**PRESSURE, **FEED, **WATER, **REST, **BOAT, **INSTRUMENTS}
