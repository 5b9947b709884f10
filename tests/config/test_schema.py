"""The API's description, and the one shape of a refusal."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from rest_framework.exceptions import ErrorDetail, MethodNotAllowed, NotAuthenticated
from rest_framework.exceptions import ValidationError as Invalid

from library.config.errors import api_refusal
from library.errors import NotEnough


def test_the_document_is_valid_and_made_without_a_warning(tmp_path):
    call_command(
        "spectacular", validate=True, fail_on_warn=True, file=str(tmp_path / "schema.yml")
    )


@pytest.mark.django_db
def test_every_operation_says_how_it_can_refuse(api):
    paths = api.get("/api/schema/?format=json").json()["paths"]

    lacking = [
        f"{method} {path}"
        for path, operations in paths.items()
        for method, operation in operations.items()
        if not {"400", "401", "403", "404", "405"} <= operation["responses"].keys()
        or (method != "get" and not {"409", "415"} <= operation["responses"].keys())
    ]

    assert len(paths) > 0
    assert lacking == []


def test_a_refusal_keeps_its_code_sentence_and_field():
    response = api_refusal(NotEnough("Only two packets are left.", field="packets"), {})

    assert response.status_code == 409
    assert response.data == {
        "code": "not_enough",
        "detail": "Only two packets are left.",
        "field": "packets",
    }


@pytest.mark.parametrize(
    ("errors", "field", "sentence"),
    [
        ({"seeds": ["Too few."], "on": ["No day."]}, "seeds", "Too few."),
        ({"non_field_errors": ["Both are empty."]}, None, "Both are empty."),
        (["Not so."], None, "Not so."),
        ({"replicates": [{}, {"normal": ["Negative."]}]}, "replicates.1.normal", "Negative."),
        ({"lot": {"parents": [ErrorDetail("Unknown.")]}}, "lot.parents", "Unknown."),
    ],
)
def test_the_first_error_is_the_sentence_and_all_are_kept(errors, field, sentence):
    body = api_refusal(Invalid(errors), {}).data

    assert (body["code"], body["field"], body["detail"]) == ("invalid", field, sentence)
    assert body["errors"] == (
        errors if isinstance(errors, dict) else {"non_field_errors": errors}
    )


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (NotAuthenticated(), "not_authenticated"),
        (MethodNotAllowed("PUT"), "method_not_allowed"),
    ],
)
def test_the_frameworks_own_refusals_have_the_same_shape(error, code):
    body = api_refusal(error, {}).data

    assert sorted(body) == ["code", "detail", "field"]
    assert body["code"] == code


def test_an_error_that_is_no_refusal_is_not_hidden():
    assert api_refusal(RuntimeError(), {}) is None


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/api/nowhere/", "/api/lots/%0D%0A/", "/api/%00/"])
def test_an_address_of_the_api_that_leads_nowhere_answers_in_json(api, path):
    response = api.get(path)

    assert (response.status_code, response.json()["code"]) == (404, "not_found")


@pytest.mark.django_db
def test_a_forgotten_slash_is_forgiven(api):
    response = api.get("/api/varieties")

    assert (response.status_code, response.url) == (301, "/api/varieties/")
