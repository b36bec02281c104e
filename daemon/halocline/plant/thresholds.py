"""Thresholds that more than one layer of the daemon goes by, each once and with its reason."""

TICK_S = 0.05
"""While the plant runs, control decides twenty times a second: to see, to find the debounce over and to act takes three
ticks, in which a hand at the trip's 3 bar/s raises the pressure by half a bar (chosen)."""

ROUNDING_S = 1e-6
"""A sum of ticks may miss a round number of seconds by less, and no tick is as short (computed)."""

DAY_S = 86400.0
"""Seconds of a day (computed)."""

SWITCH_S = 0.0005
"""Python hands the interpreter on after 5 ms otherwise: a tenth of that lets a thread that serves a conversion of 1.2
ms come in between (chosen)."""

GONE_BAR = 5.0
"""Membrane pressure below which it counts as gone. More than a feed pump makes (3 bar) or a worn sender of 100 bar
shows of nothing (3 bar); far less than the osmotic pressure of the sea (25 bar), below which no product is made
(chosen)."""

RUN_DOWN_S = 1.0
"""A pump of this size stands 0.1 to 1 s after its contactor has opened (common practice)."""

RATE_SPS = 860
"""The fastest that the converter offers, 1.2 ms a conversion (data sheet of the ADS111x family): slower ones filter
more, and let the membrane pressure wait for its turn (chosen)."""

TURN_PAUSE_S = 0.006
"""Between two turns the processor may do other things. Two conversions of 3.5 ms on a bus of 100 kHz, this pause, and a
second look at once: a pressure above the limit is known within 17 ms (computed), of the 20 that are promised; a pump
raises the pressure by 3.4 bar in that time at most (0.2 bar/ms where the brine is shut: chosen)."""

URGENT_AFTER = 3
"""A reading that may not grow old is taken again after so many others: of a full set of sixteen inputs, in turns that a
busy computer draws out to a tenth of a second, it still comes in time (computed: 4 × 0.1 s)."""

CHIP_INPUTS = 4
"""Single-ended inputs of one converter (data sheet of the ADS111x family)."""

AGE_LIMITS_S = {"vessel_pressure": 0.15, "feed_pressure": 0.5}
"""How old the two readings may be that a pump depends on. At 3 bar/s, where a rise trips, the membrane pressure moves
by half a bar in three ticks (computed); the trip for lost feed waits 2 s, of which a quarter may be gone (chosen)."""

OTHER_AGE_LIMIT_S = 2.0
"""How old any other reading may be while the pump runs: cells, and thermometers in their wells, answer in 5 to 10 s
themselves (common practice)."""

AHEAD_S, HOLDS_AHEAD = 10.0, 6.0
"""A cell answers 5 to 10 s late (common practice) and a valve takes its time as well: salt that rises is judged this
far ahead, and pressure and salt are averaged over as long; where the quality hold is short, over a sixth of it
(chosen)."""

FIRST_PRODUCT_VOLUMES = 3.0
"""Product-side volumes that go overboard before salt is judged: 95 % of what stood in a volume has then gone if it
mixes, and all of it if it does not (computed: 1 - exp(-3))."""

LARGEST_PRODUCT_SHARE = 0.25
"""Product over feed that a small element should not be asked to exceed: beyond, salt gathers at its surface (common
practice)."""

LEAST_FLUSH_L_H = 120.0
"""A slower flush leaves brine behind in the element (common practice)."""

AUTOMATIC_FLUSH_L, AUTOMATIC_FLUSH_S = 15.0, 480.0
"""The most water, and the longest time, that a flush with nobody there may take: a line that has come off empties no
tank with it (common practice)."""

AUTOMATIC_FLUSH_TANK_PERCENT = 30.0
"""Stays in the tank at least after a flush that nobody ordered (common practice)."""

PURGE_PRESERVATIVE_S, PURGE_S = 1800.0, 3600.0
"""Product overboard after preservative; after glycol, cleaning or with a new element (common practice: half an hour, an
hour). The first is what a purge on file owes that does not say how much."""

WATER_PERMEABILITIES_LMH_BAR = (0.01, 20.0)
"""No element passes less or more: sea-water elements pass about 1, the most open ones some 10 (from memory)."""

SALT_PERMEABILITIES_LMH = (0.001, 20.0)
"""No element passes less or more: sea-water elements pass about 0.1, torn ones a hundred times that (from memory)."""
