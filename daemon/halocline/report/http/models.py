"""The shapes of everything the API says and takes. The page's types are made from these."""

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, JsonValue

from halocline.link.snapshot import Values
from halocline.report import public_types
from halocline.report.http.shapes import model_of
from halocline.report.parts import PartName, PartState
from halocline.report.public_types import ConditionId

Name = Annotated[str, Field(min_length=1, max_length=80)]
Pin = Annotated[str, Field(max_length=64)]
if TYPE_CHECKING:
    PublicAlarm = public_types.PublicAlarm
    PublicSnapshot = public_types.PublicSnapshot
else:
    PublicAlarm, PublicSnapshot = model_of(public_types.PublicAlarm), model_of(public_types.PublicSnapshot)


class Answer(BaseModel):
    """What became of a command. `ids` name the reasons for programs, in the same order; `told` is what there is to say
    of one that was accepted."""

    accepted: bool
    reasons: list[str] = []
    ids: list[str] = []
    told: list[str] = []


REFUSALS = {
    400: "The request is not to be understood, or names a host that the page is not known by.",
    401: "The PIN has to be given first.",
    403: "Not from here, or not with this PIN; the reason says which.",
    404: "There is no such thing.",
    408: "The request did not arrive in time.",
    413: "The request is too large.",
    422: "The request makes no sense; every reason is named.",
    429: "Too many at once, or too many wrong PINs; `Retry-After` says when to try again.",
    503: "Control, or the record, cannot be reached now.",
}


def refused_with(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The answers that say no, for the schema."""
    return {status: {"model": Answer, "description": REFUSALS[status]} for status in statuses}


class PublicHistory(BaseModel):
    """One channel as columns of the same length; a point of nulls is a gap. Times are Unix seconds."""

    channel: str
    unit: str
    from_: Annotated[float, Field(alias="from")]
    to: float
    bucket_s: float
    time: list[float]
    low: Annotated[list[float | None], Field(alias="min")]
    mean: list[float | None]
    high: Annotated[list[float | None], Field(alias="max")]


class RecordedRun(BaseModel):
    """A run of the record; `ended` is null while it goes on, times are null where no clock was set."""

    id: int
    run: str
    boot: str
    started: str | None
    ended: str | None
    going_on: bool
    cut_off: bool
    asked: dict[str, object]
    target_l: float | None
    origin: str | None
    who: str | None
    why: str | None
    why_id: str | None
    first_out: str | None
    seconds: float | None
    producing_s: float | None
    litres: float | None
    overboard_l: float | None
    flush_l: float | None
    tds_worst_mg_l: float | None
    tds_mean_mg_l: float | None
    energy_wh: float | None
    energy_basis: str | None
    energy_means: str
    peak_pressure_bar: float | None


class RunFact(BaseModel):
    """One figure of a run, as people read it."""

    name: str
    text: str


class RunSheet(RecordedRun):
    """A run with what its sheet says: why it began and ended, and its figures in words."""

    story: str
    facts: list[RunFact]


class Runs(BaseModel):
    """Newest first."""

    runs: list[RecordedRun]


class AlarmStep(BaseModel):
    """One step in the life of an alarm."""

    boot: str
    seq: int
    time: str | None
    mono_s: float | None
    id: str
    name: str
    to: str
    priority: str
    values: Values
    means: str


class AlarmJournal(BaseModel):
    """The alarms of now (null while nobody knows) and the steps recorded, newest first."""

    alarms: list[PublicAlarm] | None
    journal: list[AlarmStep]


class RecordedEvent(BaseModel):
    """Something that happened, in one line; by whom and from where, for what people ordered. `key` tells it from all
    others."""

    key: str
    boot: str
    seq: int
    time: str | None
    mono_s: float | None
    kind: str
    text: str
    who: str | None
    origin: str | None


class Events(BaseModel):
    """Newest first. `older` is what to give as `before` for those before them, null when these are the oldest."""

    events: list[RecordedEvent]
    older: str | None


class RecordState(BaseModel):
    """How the record is."""

    state: Literal["ok", "behind", "failing"]
    problem: str | None
    note: str | None
    held: int
    refused: int
    lost: int
    unreadable: int
    last_write_age_s: float | None


class Hole(BaseModel):
    """What the record has not got: numbers of one boot; `to_seq` null where nobody knows how many."""

    boot: str
    from_seq: int
    to_seq: int | None
    reason: str


class Flushed(BaseModel):
    """The newest flush."""

    time: str | None
    litres: float | None
    complete: bool | None
    measured: bool | None


class FigureBand(BaseModel):
    """A figure over time as columns of the same length: Unix s, the estimate and its 80 % interval, as was told then;
    null where too little was known."""

    at_s: list[float]
    estimate: list[float | None]
    low: list[float | None]
    high: list[float | None]


class HealthFigure(BaseModel):
    """One figure in words: what it is now, then how fast it goes and when it ends (empty while that is not known). And
    how it was before, in `unit` (1 is a share), with the `threshold` at which it is time to act."""

    name: str
    now: str
    end: str
    unit: Literal["1", "bar"]
    threshold: float
    band: FigureBand


class FindingAside(BaseModel):
    """When a finding was put aside, why, and by whom."""

    on: str | None
    reason: str
    who: str | None


class Finding(BaseModel):
    """What is sure enough to be told unasked. `name` is what the log's `finding_aside` takes as `finding`."""

    name: str
    text: str
    confidence: float
    aside: FindingAside | None


class HealthFinding(BaseModel):
    """What is sure of how the plant ages; null while nothing is, or surely nothing is wrong."""

    finding: Finding | None


class Ageing(BaseModel):
    """How membrane, filters, pump and sensors age. `figures` and the like are words; `answer` is what
    `halocline health --json` says. `past_complete`: no earlier point of the figures is still to be computed."""

    sentence: str
    figures: list[HealthFigure]
    past_complete: bool
    evidence: list[str]
    ask: str | None
    finding: Finding | None
    answer: dict[str, JsonValue]


class Health(BaseModel):
    """What the record has counted, and how the plant ages. `membrane` is null where the settings on record allow no
    comparison, and `note` says why."""

    record: RecordState
    counters: dict[str, float]
    last_flush: Flushed | None
    holes: list[Hole]
    membrane: Ageing | None
    note: str | None


class CheckLine(BaseModel):
    """One line of `halocline check`."""

    id: str
    state: Literal["ok", "warning", "problem", "not_seen"]
    about: str
    found: str
    do: str
    more: list[str]


class Check(BaseModel):
    """What `halocline check --json` said last, as far as the page's process may look; `looking` while it is made anew.
    `age_s` is null before the first, and `problem` says why there is none newer."""

    looking: bool
    problem: str | None
    age_s: float | None
    problems: int
    warnings: int
    lines: list[CheckLine]


class Signature(BaseModel):
    """Who did a step of the commissioning and when; `seen` is what control measured then, in the boat's units."""

    time: str | None
    who: str | None
    note: str
    seen: list[str]


class CommissioningStep(BaseModel):
    """One step. `measured`: control signs it only when it has seen what the step rests on."""

    id: str
    name: str
    measured: bool
    signed: Signature | None


class SafetyPoint(BaseModel):
    """A point of the safety list: the text that is confirmed by its id."""

    id: str
    text: str


class Commissioning(BaseModel):
    """How far the commissioning is, out of the record."""

    begun: bool
    steps: list[CommissioningStep]
    safety: list[SafetyPoint]


class RecordedWork(BaseModel):
    """Something done by hand, and what the plant has done since: seconds of the high-pressure pump, litres of product.
    `time` is null where no clock was set."""

    boot: str
    seq: int
    time: str | None
    kind: str
    note: str
    who: str | None
    pump_s_since: float
    product_l_since: float


class WorkDone(BaseModel):
    """Newest first."""

    work: list[RecordedWork]


class DutyDue(BaseModel):
    """When a duty is due: computed from dates, or foreseen from the use so far."""

    at: str
    basis: Literal["computed", "foreseen"]


class DutyDone(BaseModel):
    """When a duty was last done, by whom, and what a test measured against what was expected. `by_hand` is false where
    the plant's own water did it."""

    at: str
    who: str | None
    measured: float | None
    expected: float | None
    passed: bool
    by_hand: bool


class DutyState(BaseModel):
    """One duty: how it stands and why, in words too. `share` of its interval is gone; `kinds`: entries of the
    log that meet it besides `duty_done`; `task`: the page's guided task; `uses`: parts and how many."""

    duty: str
    name: str
    state: Literal["overdue", "due", "soon", "done", "resting"]
    because: str
    due: DutyDue | None
    share: float
    last: DutyDone | None
    unit: str
    wants_reading: bool
    kinds: list[str]
    why: str
    how: str
    task: str | None
    minutes: float
    uses: dict[str, float]
    source: str
    text: str
    last_text: str


class TankWater(BaseModel):
    """The water in the tank by the record. `days_since_turnover` is computed from what was made; `warm_basis` says
    whether the sea's warmth is measured or assumed."""

    days_since_turnover: float | None
    contact_until: str | None
    flush_blocked_since: str | None
    residual_mg_l: float | None
    residual_at: str | None
    sea_c: float | None
    warm: bool
    warm_basis: Literal["measured", "assumed"]
    text: str
    chlorine_text: str | None


class Duties(BaseModel):
    """What is done by hand, what is most pressing first."""

    at: str
    sentence: str
    duties: list[DutyState]
    water: TankWater


class PartUsed(BaseModel):
    """When a part was last used or fitted, by whom, and how long the high-pressure pump has run since, h."""

    at: str
    who: str | None
    pump_h_since: float


class StoredPart(BaseModel):
    """One part. `aboard` is null until it was counted; `number` as noted at the last count."""

    part: str
    name: str
    minimum: float
    counted: bool
    aboard: float | None
    number: str
    fitted: PartUsed | None
    text: str


class ToBuy(BaseModel):
    """One line of the shopping list: `need` is foreseen within the horizon, `buy` is what to get."""

    part: str
    name: str
    minimum: float
    counted: bool
    need: float
    buy: float
    text: str


class Stores(BaseModel):
    """Spares aboard, and what the next harbour has to give."""

    at: str
    horizon_days: float
    stores: list[StoredPart]
    shopping: list[ToBuy]


class CalibrationInForce(BaseModel):
    """What was set right about a channel, or about the membrane: when, by whom, what it showed before and after."""

    channel: str
    date: str
    initials: str
    before: list[float]
    after: list[float] = []
    zero: float | None = None
    span: float | None = None
    pulses_per_l: float | None = None
    water_permeability_lmh_bar: float | None = None
    salt_permeability_lmh: float | None = None
    point: list[float] = []


class CalibrationsInForce(BaseModel):
    """All calibrations in force; what is not among them reads by the configuration."""

    calibrations: list[CalibrationInForce]


class AskedFor(BaseModel):
    """The need of an offer; all null: until the tank is full."""

    litres: float | None
    minutes: float | None
    until_s: float | None


class PublicOffer(BaseModel):
    """What a run would come to, foreseen. `possible` only if a start would be accepted now; `reasons` says what speaks
    against this need. `litres` of `wanted_l` get into the tank in this one run, which ends `seconds` after the start,
    by `ended_by`; then the motor rests for `rest_s` if it has to. `says` is all of it in words."""

    need: AskedFor
    possible: bool
    reasons: list[str]
    wanted_l: float | None
    litres: float | None
    seconds: float | None
    before_s: float
    energy_wh: float | None
    flush_l: float
    ended_by: Literal["need", "tank", "motor", "run_limit", "purge"]
    rest_s: float | None
    ends: str | None
    says: list[str]


class PlannedRun(BaseModel):
    """A run of the days ahead; the pump is on for `minutes`, `overboard_l` counted. `why`: what speaks for it then."""

    start: str
    minutes: int
    litres_to_tank: float
    overboard_l: float
    flush_l: float
    energy_wh: float
    flow_l_h: float
    why: Literal["sun_to_spare", "engine_runs", "reserve", "level_at_end"]


class ForbiddenTime(BaseModel):
    """When no run may be."""

    from_: str = Field(alias="from")
    to: str
    why: str


class ForbiddenWater(ForbiddenTime):
    """A time in which no run is planned because of the water, in words too."""

    text: str


class PlanDrawn(BaseModel):
    """Tank and battery over the days ahead, a point for the end of each `step_min`; `sun_w` by the hour."""

    step_min: float
    tank_l: list[float]
    tank_high_l: list[float]
    battery_percent: list[float]
    battery_low_percent: list[float]
    sun_w: list[float]
    blocked: list[ForbiddenTime]
    tank_now_l: float
    battery_now_percent: float
    capacity_l: float
    reserve_l: float
    min_percent: float
    battery_from: Literal["measured", "computed", "assumed"]


class DaysAhead(BaseModel):
    """When to make water. `runs` and `feasible` are null while days cannot be planned; then `missing` says why.
    `against`: how what would be otherwise differs from the plan. `forecast`: which one counts, and how old it is;
    `sun_wh_day` and `engine_w` are what the configuration knows of sun and engine."""

    from_: str | None = Field(default=None, alias="from")
    to: str | None = None
    feasible: bool | None = None
    runs: list[PlannedRun] | None = None
    missing: list[str]
    problems: list[str]
    says: str
    changed: str | None
    reasons: list[str]
    what_ifs: list[str]
    rests_on: list[str]
    drawn: PlanDrawn | None
    against: str | None
    forecast: str | None
    forbidden: list[ForbiddenWater]
    sun_wh_day: float
    engine_w: float


class Plan(BaseModel):
    """What can be offered now, none of which would be refused; or the `reasons` why nothing can. `rests_on` has the
    figures behind it, `says` what the flow is told from; null and empty while control is not heard."""

    offers: list[PublicOffer]
    reasons: list[str]
    rests_on: dict[str, float | bool | str | None] | None
    says: str
    ahead: DaysAhead


class SessionState(BaseModel):
    """Whether this browser may give commands, and whether it has to bring a PIN for that."""

    needed: bool
    present: bool
    pin_set: bool
    name: str | None


class AlivePart(BaseModel):
    """How one part does, and what is wrong with it. waiting: what it needs from outside is not there."""

    state: PartState
    problem: str | None


class Alive(BaseModel):
    """Whether every part of ours does its work, and how each does."""

    ok: bool
    control: Literal["live", "lost"]
    record: Literal["ok", "behind", "failing"]
    conditions: list[ConditionId]
    parts: dict[PartName, AlivePart]


class ReachableAt(BaseModel):
    """One address of the page; `this_computer` is of no use to others."""

    url: str
    kind: Literal["network", "name", "this_computer"]


class Address(BaseModel):
    """Where the page is reached, best first. `best` is null when no other device can reach it; `note` says why."""

    best: str | None
    addresses: list[ReachableAt]
    note: str


class StrictModel(BaseModel):
    """What comes from outside: nothing unknown, nothing that is not finite, nothing converted."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class SessionRequest(StrictModel):
    """The PIN, and a name to sign commands with."""

    pin: Pin
    name: Annotated[str, Field(max_length=40)] = ""
