"""The API against its own description: whatever is sent, it answers as described and never with its own fault."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from soakage.web.server import create_app
from soakage.web.settings import Settings
from web_help import described_operations

HOST = "127.0.0.1:8650"
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    made = create_app(
        Settings(store=str(tmp_path_factory.mktemp("store") / "s.sqlite"), stated_name="R. Amsel")
    )
    yield made
    made.state.store.close()


@pytest.mark.parametrize("operation", described_operations())
def test_it_answers_as_it_says(app: FastAPI, operation: str) -> None:
    client = TestClient(app, base_url=f"http://{HOST}")
    headers = {"X-CSRF-Token": client.get("/api/session").json()["csrf"], "Host": HOST}
    headers["Cookie"] = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
    method, path = operation.split(" ")
    schema = schemathesis.openapi.from_asgi("/openapi.json", app, headers={"Host": HOST})

    @settings(
        max_examples=15,
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    @given(case=schema[path][method].as_strategy())
    def answers(case: Any) -> None:
        case.validate_response(case.call(headers=headers), checks=CHECKS)

    answers()
