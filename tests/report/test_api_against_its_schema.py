"""Every operation of the API with whatever its own schema allows, and with what it does not, on a real socket with all
guards: no answer that the schema does not know, no failure of the server, nothing accepted that is not allowed.

Requests are made up by schemathesis; `make soak` makes up many more.
"""

import os

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import positive_data_acceptance

from halocline.report.http import commands
from halocline.report.http.schema import document

EXAMPLES = 400 if os.environ.get("HALOCLINE_SOAK") else 12
SCHEMA = schemathesis.openapi.from_dict(document()).exclude(path="/api/v1/stream")
"""The stream never ends; its form is tested with the server."""

OPERATIONS = [found.ok() for found in SCHEMA.get_all_operations()]
LOOSER_THAN_JUDGED = frozenset({"GET /api/v1/history", "GET /api/v1/offer", "POST /api/v1/plan/forecast"})
"""Where what the schema allows may still make no sense: an unknown channel, a span that ends before it begins, the
31st of February, a sea out of the order of time."""

EXCUSED = {
    **dict.fromkeys(LOOSER_THAN_JUDGED, (positive_data_acceptance,)),
    "GET /healthz/{part}": (not_a_server_error,),
}
"""Checks that an operation is not asked. By 503 a part is said not to do its work: the control here is heard once."""


@pytest.fixture(scope="module")
def url(one_page):
    """A simulated boat's page, which needs no PIN from its own computer, with a control that accepts everything."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(commands, "COMMANDS_PER_S", 1e9)
        yield one_page(simulated=True, faults=lambda: {"offered": [], "standing": []}).url.rstrip("/")


def takes_something(operation):
    return bool(operation.body or operation.query or operation.path_parameters)


def made_up(operation, mode, url, excluded=()):
    """Asks with so many made-up requests and looks at every answer."""

    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case):
        case.call_and_validate(base_url=url, headers={"X-Halocline": "1"}, timeout=10, excluded_checks=list(excluded))

    ask()


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.label)
def test_what_the_schema_allows_gets_an_answer_that_the_schema_knows(operation, url):
    made_up(operation, GenerationMode.POSITIVE, url, EXCUSED.get(operation.label, ()))


@pytest.mark.parametrize("operation", list(filter(takes_something, OPERATIONS)), ids=lambda operation: operation.label)
def test_what_the_schema_forbids_is_refused_in_a_way_that_the_schema_knows(operation, url):
    made_up(operation, GenerationMode.NEGATIVE, url)
