"""Each command, once: its arguments with their meaning and bounds, and which way it may come.

Control's parser, the page's API, the command line, the filter of the broker, PROTOCOL.md and TOPICS.md are made from
these. What a command does is control's: its checks (`control/permissives`) and its effect (`control/commands.py`);
what it is called stands in `words/names.py`.
"""

from collections.abc import Mapping

from halocline.plant.command_fields import DEFINED, Definition, OnPage, Order, OverMqtt, Point, argument, command
from halocline.plant.duties import DUTY_IDS, PARTS
from halocline.plant.readings import SALINITY_WAYS
from halocline.plant.vocabulary import FINDINGS, LOG_KINDS, PURGES

MOST_LITRES = 20_000.0
MOST_MINUTES = 7 * 24 * 60.0
MOST_BENCH_S = 600.0
MOST_US_CM, MOST_BUCKET_S, MOST_BAR, MOST_G_KG = 200_000.0, 86_400.0, 150.0, 45.0
MOST_CHLORINE_MG_L, MOST_CONTACT_H, MOST_MEASURED, MOST_PIECES = 1_000.0, 240.0, 1e6, 10_000.0
UNTIL = r"^([01]\d|2[0-3]):[0-5]\d$|^\d{4}-\d\d-\d\dT([01]\d|2[0-3]):[0-5]\d(:[0-5]\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?$"


@command("start")
class Start(Order):
    """make water: so many litres, or minutes, or until a time; bare: until the tank is full"""

    litres: float | None = argument("litres into the tank", default=None, most=MOST_LITRES)
    minutes: float | None = argument("minutes of water into the tank", default=None, most=MOST_MINUTES)
    until: str | None = argument("a time of day (18:30) or an ISO 8601 date and time", default=None, pattern=UNTIL)
    until_s: float | None = argument("`until` in seconds from now", default=None, from_control=True)
    until_unknown: bool | None = argument("the clock cannot tell `until`", default=None, from_control=True)
    confirmed: list[str] | None = argument("what you have looked at", default=None, a_name=True)


@command("stop", mqtt=OverMqtt.ALWAYS, page=OnPage.OPEN)
class Stop(Order):
    """stop in good order; always works"""


@command("flush", mqtt=OverMqtt.NAMED)
class Flush(Order):
    """flush with fresh water"""

    litres: float | None = argument("litres of fresh water", default=None, most=MOST_LITRES)


@command("acknowledge", mqtt=OverMqtt.ALWAYS)
class Acknowledge(Order):
    """say that an alarm has been seen"""

    alarm: str | None = argument("its id; without: all", default=None, a_name=True, positional=True)


@command("reset", page=OnPage.PIN_AGAIN)
class Reset(Order):
    """leave the tripped state once its causes are gone"""


@command("silence", mqtt=OverMqtt.ALWAYS, page=OnPage.OPEN)
class Silence(Order):
    """quiet the buzzer until the next alarm"""


@command("shelve", mqtt=OverMqtt.NAMED)
class Shelve(Order):
    """put a warning out of sight for a time"""

    alarm: str = argument("its id", a_name=True, positional=True)
    minutes: float | None = argument("for how long", default=60.0, most=MOST_MINUTES)


@command("lay_up", mqtt=OverMqtt.NAMED)
class LayUp(Order):
    """note that the membrane is preserved; refuses to run until recommissioned"""

    preservative: str | None = argument(
        "preservative, glycol (food-grade propylene), new_element or cleaning",
        default="preservative",
        choices=PURGES,
    )


@command("recommission", page=OnPage.PIN_AGAIN)
class Recommission(Order):
    """bring a preserved plant back; first water is purged"""


@command("bench", page=OnPage.PIN_AGAIN)
class Bench(Order):
    """try one output, with pumps and pressure off"""

    output: str = argument("its id", a_name=True, positional=True)
    seconds: float | None = argument("for how long", default=1.0, most=MOST_BENCH_S)


@command("consent_flush", page=OnPage.PIN_AGAIN)
class ConsentFlush(Order):
    """let the plant flush by itself while nobody is there, for some days"""

    name: str = argument("who gives consent", a_name=True, positional=True)
    days: float | None = argument("for how many days", default=7.0, most=30.0)
    litres: float | None = argument(
        "the most fresh water in all; without: as many flushes as fall due in warm water",
        default=None,
        most=MOST_LITRES,
    )


@command("withdraw_flush_consent")
class WithdrawFlushConsent(Order):
    """end the consent to flushes by themselves; one that runs stops"""


@command("service_lock", mqtt=OverMqtt.NAMED)
class ServiceLock(Order):
    """refuse everything that moves water while a housing is open"""

    name: str = argument("who", a_name=True, positional=True)
    reason: str = argument("at what", positional=True)


@command("service_unlock")
class ServiceUnlock(Order):
    """take the service lock off"""


@command("calibrate", page=OnPage.PIN_AGAIN, own_parser=True)
class Calibrate(Order):
    """set a sensor right against a better instrument, or the membrane by what it does"""

    channel: str | None = argument("a channel, `membrane`, or `all` with `configured`", default=None, a_name=True)
    membrane: bool | None = argument("the membrane, instead of a channel", default=None)
    points: list[Point] | None = argument(
        "what was shown and what was true; null for what is shown now; for the membrane bar, °C, L/h and mg/L",
        default=None,
    )
    configured: bool | None = argument("take the calibration back", default=None)
    initials: str | None = argument("who makes it", default=None, longest=10)


@command("log", mqtt=OverMqtt.NAMED, own_parser=True)
class Log(Order):
    """note work done by hand, or anything worth writing down"""

    kind: str = argument(f"what was done: {', '.join(LOG_KINDS)}", a_name=True)
    note: str | None = argument("in your words", default=None)
    alarm: str | None = argument("the alarm that is taken out of service or put back", default=None, a_name=True)
    confirmed: list[str] | None = argument(
        "with purge_confirmed: the end tests done, in their order; with the step safety: the points that are true",
        default=None,
        a_name=True,
    )
    step: str | None = argument("with commissioned: the step of the commissioning", default=None, a_name=True)
    us_cm: float | None = argument(
        "with hand_meter: what it shows of the product, µS/cm", default=None, most=MOST_US_CM
    )
    sample_c: float | None = argument(
        "with hand_meter: °C of the sample, if the meter does not bring it to 25 °C itself", default=None, most=50.0
    )
    litres: float | None = argument("with bucket_test: litres of product in the bucket", default=None, most=MOST_LITRES)
    seconds: float | None = argument("with bucket_test: how long it took", default=None, most=MOST_BUCKET_S)
    bar: float | None = argument("with gauge_read: what the mechanical gauge shows", default=None, most=MOST_BAR)
    g_kg: float | None = argument(
        "with sea_salinity: grams of salt in a kilogram of sea water", default=None, most=MOST_G_KG
    )
    by: str | None = argument(
        "with sea_salinity: how it was got; published is a figure for the region, its source in the note",
        default=None,
        choices=SALINITY_WAYS,
    )
    finding: str | None = argument(
        "with finding_aside: what health has found and need not tell again until it changes; why stands in the note",
        default=None,
        choices=FINDINGS,
    )
    mg_l: float | None = argument(
        "free chlorine: with chlorine_read what the strip or meter shows, with tank_chlorinated what was dosed",
        default=None,
        most=MOST_CHLORINE_MG_L,
        from_zero=True,
    )
    contact_h: float | None = argument(
        "with tank_chlorinated: hours it has to stand before the tank is emptied", default=None, most=MOST_CONTACT_H
    )
    duty: str | None = argument("with duty_done: which one", default=None, choices=DUTY_IDS)
    measured: float | None = argument(
        "with duty_done: what the test showed, in the duty's unit", default=None, most=MOST_MEASURED, from_zero=True
    )
    expected: float | None = argument(
        "with duty_done: what it had to show here, where that is not what the table of duties says",
        default=None,
        most=MOST_MEASURED,
        from_zero=True,
    )
    part: str | None = argument("with stores_counted: which one", default=None, choices=tuple(PARTS))
    aboard: float | None = argument(
        "with stores_counted: how many are aboard", default=None, most=MOST_PIECES, from_zero=True
    )
    minimum: float | None = argument(
        "with stores_counted: how many should be", default=None, most=MOST_PIECES, from_zero=True
    )


@command("fault", takes_more=True, own_parser=True)
class Fault(Order):
    """on a simulated boat: let something break, to practise"""

    fault: str = argument("its name", a_name=True)
    clear: bool | None = argument("end it", default=None)


COMMANDS: Mapping[str, Definition] = DEFINED
"""All of them, by name, in the order in which people are shown them."""

OPEN_TO_ALL = frozenset(name for name, one in COMMANDS.items() if one.page is OnPage.OPEN)
"""Taken from every device, without a PIN, and however many commands came before."""

ALWAYS_FROM_MQTT = frozenset(name for name, one in COMMANDS.items() if one.mqtt is OverMqtt.ALWAYS)
NEVER_FROM_MQTT = frozenset(name for name, one in COMMANDS.items() if one.mqtt is OverMqtt.NEVER)
