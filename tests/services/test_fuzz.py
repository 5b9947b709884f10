"""The API against its own description: schemathesis makes up requests, good and bad.

What must hold for every one of them: no server error, and no answer of a status or shape that
the description does not know. ``SOWBACK_FUZZ=100`` tries that many for each operation.
"""

from __future__ import annotations

import os

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, connection, transaction
from hypothesis import HealthCheck, Phase, given
from hypothesis import settings as effort
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from accounts.services import make_token
from library.config.wsgi import application
from library.germination import services as bench
from library.provenance.services import report_off_types

pytestmark = [pytest.mark.long, pytest.mark.django_db]

EXAMPLES = int(
    os.environ.get("SOWBACK_FUZZ", "6" if connection.vendor == "postgresql" else "2")
)
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


@pytest.fixture
def kept_open(db):
    """A request through WSGI ends by closing connections, and the test's data with them."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def described(kept_open):
    return schemathesis.openapi.from_wsgi("/api/schema/?format=json", application)


@pytest.fixture
def tokens(member, desk, coordinator) -> list[str]:
    """A key of each kind of person."""
    return [make_token(member=who, name="fuzz")[1] for who in (member, desk, coordinator)]


@pytest.fixture
def things(make_packet, make_variety, desk) -> list[tuple[str, str, list]]:
    """What there is to find: the beginning of an address, the name of the key, and the keys."""
    lot = make_packet(make_variety(crop="drying bean"), seeds=2000).lot
    day = {"lot": lot, "on": lot.received_on, "by": desk}
    tests = [
        bench.plan_test(**day),
        bench.start_test(**day),
        bench.start_test(kind="sequential", **day),
        bench.record_test(
            lot=lot,
            replicates=[{"seeds": 50, "normal": 46}],
            started_on=lot.received_on,
            closed_on=lot.received_on,
            by=desk,
        ),
    ]
    seen = report_off_types(
        lot=lot,
        seen_on=lot.received_on,
        what="pods of two colours",
        by=desk,
        on=lot.received_on,
    )
    return [
        ("/api/germination-tests/", "id", [test.pk for test in tests]),
        ("/api/lots/", "number", [lot.number]),
        ("/api/off-type-reports/", "id", [seen.pk]),
    ]


def keys_for(operation, things) -> list[dict]:
    """The keys of things that are there, for an operation that names one."""
    named = {parameter.name for parameter in operation.path_parameters}
    return [
        {name: key}
        for beginning, name, keys in things
        if operation.path.startswith(beginning) and name in named
        for key in keys
    ]


def headers_of(token: str) -> dict[str, str]:
    """Who asks. Answers are asked for as they are: a call through WSGI unpacks none."""
    return {"Authorization": f"Token {token}", "Accept-Encoding": "identity"}


def refusals_of(operation, tokens, things) -> list[str]:
    """What one operation answered that it should not have, the simplest request first."""

    keys = keys_for(operation, things)
    strategy = operation.as_strategy(generation_mode=GenerationMode.POSITIVE)
    if operation.body or operation.query:  # without either nothing can be wrong
        strategy |= operation.as_strategy(generation_mode=GenerationMode.NEGATIVE)

    @effort(
        max_examples=EXAMPLES,
        deadline=None,
        derandomize=True,  # the same requests each time; SOWBACK_FUZZ widens them
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(request=strategy)
    def ask(request) -> None:
        for key in [{}, *keys]:
            request.path_parameters = {**request.path_parameters, **key}
            for token in tokens:
                with transaction.atomic():
                    response = request.call(headers=headers_of(token))
                    transaction.set_rollback(True)  # so that each finds the things as they were
                request.validate_response(response, checks=CHECKS)

    try:
        ask()
    except Unsatisfiable:
        return []
    except BaseExceptionGroup as found:
        return [f"{operation.label}: {found}"]
    return []


def test_the_api_keeps_to_its_description(described, tokens, things):
    operations = [found.ok() for found in described.get_all_operations()]

    failures = [line for o in operations for line in refusals_of(o, tokens, things)]

    assert len(operations) > 40
    assert not failures, "\n".join(failures)
