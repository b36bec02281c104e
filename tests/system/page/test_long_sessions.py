"""A page that stays open for hours holds no more memory than at the start."""

import json

import pytest

pytestmark = [pytest.mark.system, pytest.mark.timeout(600)]

COUNT_SNAPSHOTS = """
window.heard = 0;
const Native = EventSource;
window.EventSource = class extends Native {
  constructor(...given) { super(...given); this.addEventListener("message", () => { window.heard += 1; }); }
};
"""
ROOMS = ("Now", "Trends", "Log", "Health", "Plan")
PER_HOUR = 7200
"""Two snapshots a second."""
MOST_BYTES = 10_000_000
"""Of the whole heap with compiled code: a tenth of what an old phone gives a page."""


def live_through(page, address, put, snapshots):
    """Let that many snapshots arrive while rooms and states change."""
    end = page.evaluate("window.heard") + snapshots
    turn = 0
    while page.evaluate("window.heard") < end:
        put(address, ("producing", "many_alarms", "stopping", "tripped", "standby")[turn % 5])
        page.get_by_role("navigation").get_by_text(ROOMS[turn % len(ROOMS)], exact=True).click()
        page.wait_for_timeout(150)
        turn += 1


SCRIPT_DATA = {
    "object",
    "closure",
    "string",
    "concatenated string",
    "sliced string",
    "array",
    "number",
    "bigint",
    "regexp",
}
"""What a page itself holds on to. Compiled code is not in it: the browser goes on compiling for hours."""


def script_data_bytes(session):
    """The bytes of everything that scripts can reach, from a snapshot of the heap."""
    pieces = []

    def take(piece):
        pieces.append(piece["chunk"])

    session.on("HeapProfiler.addHeapSnapshotChunk", take)
    session.send("HeapProfiler.takeHeapSnapshot", {"reportProgress": False})
    session.remove_listener("HeapProfiler.addHeapSnapshotChunk", take)
    heap = json.loads("".join(pieces))
    meta, nodes = heap["snapshot"]["meta"], heap["nodes"]
    fields, kinds = meta["node_fields"], meta["node_types"][0]
    step, kind, size = len(fields), fields.index("type"), fields.index("self_size")
    return sum(nodes[at + size] for at in range(0, len(nodes), step) if kinds[nodes[at + kind]] in SCRIPT_DATA)


def held(page, session):
    """Script data, elements and listeners, after everything unused was given back."""
    page.get_by_role("navigation").get_by_text("Now", exact=True).click()
    for _ in range(3):
        session.send("HeapProfiler.collectGarbage")
        page.wait_for_timeout(100)
    metrics = {each["name"]: each["value"] for each in session.send("Performance.getMetrics")["metrics"]}
    whole = {name: metrics[name] for name in ("JSHeapUsedSize", "Nodes", "JSEventListeners")}
    return {"script_data": script_data_bytes(session), **whole}


@pytest.mark.parametrize(
    "snapshots", [pytest.param(600, id="five minutes"), pytest.param(PER_HOUR, id="an hour", marks=pytest.mark.soak)]
)
def test_the_page_holds_no_more_at_the_end_of_a_session_than_at_its_start(open_page, serve, put, snapshots):
    fast = serve("--every", "8")
    page = open_page("about:blank")
    page.add_init_script(COUNT_SNAPSHOTS)
    page.goto(fast)
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable")
    live_through(page, fast, put, 300)
    before = held(page, session)
    live_through(page, fast, put, snapshots)
    after = held(page, session)
    print(f"{snapshots} snapshots: {before} -> {after}")
    assert after["script_data"] < before["script_data"] * 1.05
    assert after["Nodes"] < before["Nodes"] * 1.25 + 200
    assert after["JSEventListeners"] < before["JSEventListeners"] * 1.25 + 50
    assert after["JSHeapUsedSize"] < MOST_BYTES
