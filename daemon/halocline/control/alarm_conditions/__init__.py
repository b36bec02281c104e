"""When each cause holds: one condition a row of `plant.alarms.ROWS`, under the same id, in files by what they look at.

Which states a row is armed in, how long it must hold, how far it must come back and what it causes stand in the table.
"""

from collections.abc import Mapping

from halocline.control.alarm_conditions.boat import BOAT
from halocline.control.alarm_conditions.condition import Condition
from halocline.control.alarm_conditions.feed import FEED
from halocline.control.alarm_conditions.instruments import INSTRUMENTS
from halocline.control.alarm_conditions.pressure import PRESSURE
from halocline.control.alarm_conditions.rest import REST
from halocline.control.alarm_conditions.water import WATER

CONDITIONS: Mapping[str, Condition] = {**PRESSURE, **FEED, **WATER, **REST, **BOAT, **INSTRUMENTS}
