"""The server itself: what it finds, how it fails, what it keeps, counts and writes down."""

from __future__ import annotations

import gzip
import json
import logging
import re
from pathlib import Path

import pytest
from fastapi import APIRouter
from fastapi.testclient import TestClient
from pydantic import ValidationError

from soakage.errors import DiscoveryError, Fault, InputError, QuantityError, UsageError
from soakage.web import api, pages, statics
from soakage.web.logs import Lines, set_up
from soakage.web.metrics import Metrics
from soakage.web.routing import found
from soakage.web.server import create_app
from soakage.web.settings import Settings
from soakage.web.shapes import Day, Shape
from web_help import PASSWORD, log_in, outside_client, token

HERE = "http://127.0.0.1:8650"
PAGE = {"Accept": "text/html"}


# ------------------------------------------------------------------------------------ what is found


def test_a_page_is_added_by_one_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "added_page.py").write_text(
        "from soakage.web.routing import Router\n"
        "ROUTER = Router('added', word='Added', address='/added', place='head', order=2)\n"
        "@ROUTER.get('/added')\n"
        "def added() -> dict[str, str]:\n"
        "    return {'it': 'is there'}\n",
        encoding="utf-8",
    )
    monkeypatch.setattr(pages, "__path__", [*pages.__path__, str(tmp_path)])
    client = TestClient(create_app(Settings()), base_url=HERE)
    assert client.get("/added").json() == {"it": "is there"}
    assert '<a href="/added">Added</a>' in client.get("/").text


def test_every_router_has_its_own_id_and_its_words_lead_somewhere(client: TestClient) -> None:
    routers = [*found(pages, "soakage.pages"), *found(api, "soakage.api")]
    ids = [router.id for router in routers]
    assert len(ids) == len(set(ids))
    for router in routers:
        if router.place:
            assert router.word
            assert client.get(router.address).status_code == 200


def test_what_declares_another_kind_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("soakage.web.pages.start.ROUTER", APIRouter())
    with pytest.raises(DiscoveryError, match="APIRouter"):
        found(pages, "soakage.pages")


def test_the_page_of_components_is_for_developers() -> None:
    client = TestClient(create_app(Settings()), base_url=HERE)
    assert client.get("/pieces").status_code == 404
    assert "Pieces" not in client.get("/").text


def test_the_api_describes_itself_and_loads_no_page_from_outside(client: TestClient) -> None:
    described = client.get("/openapi.json").json()
    assert described["openapi"].startswith("3.1")
    assert "/api/session" in described["paths"]
    assert "/" not in described["paths"]  # pages are for people
    assert "HTTPValidationError" not in json.dumps(described)
    faults = described["components"]["schemas"]["FaultShape"]["properties"]
    assert list(faults) == ["file", "row", "field", "given", "problem", "allowed", "remedy"]
    for path in ("/docs", "/redoc"):
        assert client.get(path).status_code == 404


def test_every_operation_says_what_it_does(client: TestClient) -> None:
    for path, operations in client.get("/openapi.json").json()["paths"].items():
        for method, operation in operations.items():
            assert operation.get("description"), f"{method} {path}"


# ------------------------------------------------------------------------------------ how it fails


@pytest.fixture
def failing(web_settings: Settings) -> TestClient:
    app = create_app(web_settings)
    fault = Fault(
        "pump.csv", 12, "voltage", "1,500 V", "It can be read two ways.", "1.5 V or 1500 V", "Write one."
    )
    raised = {
        "input": InputError([fault, fault]),
        "quantity": QuantityError("x", "No number.", "a number", "Write one."),
        "usage": UsageError("It does not fit together."),
        "unforeseen": RuntimeError("the secret cause"),
    }

    def fail(name: str) -> None:
        raise raised[name]

    app.add_api_route("/fail/{name}", fail)
    return TestClient(app, base_url=HERE)


@pytest.mark.parametrize(
    ("name", "status", "count"),
    (("input", 422, 2), ("quantity", 422, 1), ("usage", 400, 1), ("unforeseen", 500, 1)),
)
def test_every_failure_has_one_shape(failing: TestClient, name: str, status: int, count: int) -> None:
    answer = failing.get(f"/fail/{name}")
    assert answer.status_code == status
    errors = answer.json()["errors"]
    assert len(errors) == count
    assert list(errors[0]) == ["file", "row", "field", "given", "problem", "allowed", "remedy"]
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_person_gets_a_page_of_it(failing: TestClient) -> None:
    answer = failing.get("/fail/input", headers=PAGE)
    assert answer.status_code == 422
    assert "pump.csv, row\u00a012" in answer.text.replace("&nbsp;", "\u00a0")
    assert "Given: 1,500 V. Allowed: 1.5 V or 1500 V. Write one." in answer.text


def test_a_fault_of_ours_is_told_without_its_cause_and_written_down(
    failing: TestClient, caplog: pytest.LogCaptureFixture
) -> None:
    answer = failing.get("/fail/unforeseen", headers=PAGE)
    assert answer.status_code == 500
    assert "secret cause" not in answer.text
    number = re.search(r"request (\S+)\.", answer.text)
    assert number
    assert "frame-ancestors" in answer.headers["content-security-policy"]
    (record,) = [r for r in caplog.records if r.levelno == logging.ERROR]
    assert record.told["request"] == number[1]  # type: ignore[attr-defined]
    assert "the secret cause" in Lines().format(record)


def test_what_is_not_there_is_said(client: TestClient) -> None:
    assert "Nothing is kept at this address." in client.get("/none", headers=PAGE).text
    said = client.get("/none").json()["errors"][0]
    assert said["problem"] == "Nothing is kept at this address."
    assert client.put("/health", headers=token(client)).status_code == 405


def test_a_value_that_is_not_allowed_is_named_and_a_password_never_repeated(client: TestClient) -> None:
    given = {"name": 5, "password": ["a password in a list"], "more": 1}
    answer = client.post("/api/session", json=given, headers=token(client))
    assert answer.status_code == 422
    by_field = {error["field"]: error for error in answer.json()["errors"]}
    assert by_field["name"]["given"] == "5"
    assert by_field["more"]["given"] == "1"
    assert by_field["password"]["given"] == ""
    assert "a password in a list" not in answer.text


@pytest.mark.parametrize(
    "body",
    ('{"name": NaN, "password": 1e999}', '{"name": "\\ud800", "password": "x"}', "{", "", "[]", "\x00"),
)
def test_no_body_makes_it_stumble(client: TestClient, body: str) -> None:
    headers = {**token(client), "Content-Type": "application/json"}
    assert client.post("/api/session", content=body, headers=headers).status_code in (401, 422)


@pytest.mark.parametrize("value", ("NaN", "Infinity", "1e999", '"5"', "true"))
def test_a_number_is_a_number_and_finite(value: str) -> None:
    class One(Shape):
        figure: float

    with pytest.raises(ValidationError):
        One.model_validate(json.loads(f'{{"figure": {value}}}'))
    assert One.model_validate({"figure": 5}).figure == 5


def test_a_day_is_written_as_text() -> None:
    class One(Shape):
        on: Day

    assert One.model_validate({"on": "2026-11-24"}).on.year == 2026
    for wrong in (20261124, 1.5, "yesterday", None):
        with pytest.raises(ValidationError):
            One.model_validate({"on": wrong})


# ------------------------------------------------------------------------------------ files


def test_files_are_kept_for_good_and_packed(client: TestClient) -> None:
    address = statics.address("layout.css")
    answer = client.get(address)
    assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert answer.headers["content-encoding"] == "gzip"
    assert answer.headers["content-type"].startswith("text/css")
    plain = client.get(address, headers={"Accept-Encoding": "identity"})
    assert "content-encoding" not in plain.headers
    assert plain.content == answer.content


@pytest.mark.parametrize(
    "name",
    (
        "../server.py",
        "%2e%2e/server.py",
        "..%2fserver.py",
        "fonts/401.ttf",
        "fonts/../../server.py",
        "no.css",
        "",
    ),
)
def test_no_other_file_is_served(client: TestClient, name: str) -> None:
    assert client.get(f"/static/{statics.digest()}/{name}").status_code == 404


def test_an_old_address_is_no_longer_served(client: TestClient) -> None:
    assert client.get("/static/0000000000000000/layout.css").status_code == 404


def test_all_files_a_page_names_are_there(client: TestClient) -> None:
    text = client.get("/pieces").text
    named = set(re.findall(r'(?:href|src|srcset)="(/[^"#]*)"', text))
    assert len(named) > 10
    missing = [name for name in sorted(named) if client.get(name.replace("&amp;", "&")).status_code != 200]
    # Pages that come with the flows.
    assert [name for name in missing if name not in ("/tests/new", "/assets")] == []


def test_the_first_page_is_light(client: TestClient) -> None:
    """Goal of the project: under 300 kB before charts."""
    start = client.get("/")
    weight = len(gzip.compress(start.content))
    styles = "".join(client.get(a).text for a in re.findall(r'href="(/static/[^"]*css)"', start.text))
    named = re.findall(r'(?:href|src)="(/static/[^"]*)"', start.text)
    fonts = [statics.address(f"fonts/{weight}.ttf") for weight in statics.FACES]
    assert all(f"fonts/{weight}.ttf" in styles for weight in statics.FACES)
    for address in {*named, *fonts}:
        weight += len(gzip.compress(client.get(address).content))
    assert weight < 300_000


def test_the_chart_library_is_kept_from_one_run_to_the_next(
    web_settings: Settings, client: TestClient
) -> None:
    answer = client.get(statics.address("vega.js"))
    assert answer.status_code == 200
    assert len(answer.content) > 500_000
    assert web_settings.cache is not None
    (kept,) = web_settings.cache.glob("vega-*.js")
    assert kept.read_bytes() == answer.content


def test_the_frontend_is_smaller_than_a_fifth_of_the_python() -> None:
    package = Path(statics.__file__).parents[1]

    def lines(*kinds: str) -> int:
        files = [file for kind in kinds for file in package.rglob(f"*{kind}")]
        return sum(len(file.read_text(encoding="utf-8").splitlines()) for file in files)

    assert 0 < lines(".css", ".js", ".html", ".j2") < lines(".py") / 5


# ------------------------------------------------------------------------------------ watched


def test_it_says_that_it_is_up(client: TestClient) -> None:
    from soakage import __version__

    assert client.get("/health").json() == {"soakage": __version__, "status": "up"}


def test_metrics_are_in_the_open_text_format(client: TestClient) -> None:
    # OpenMetrics 1.0.0, text format: names, labels, one sample a line, the last line is "# EOF" (from memory).
    for path in ("/", "/health", "/none", '/a"b\\c'):
        client.get(path)
    answer = client.get("/metrics")
    assert answer.headers["content-type"] == "application/openmetrics-text; version=1.0.0; charset=utf-8"
    *lines, last, empty = answer.text.split("\n")
    assert (last, empty) == ("# EOF", "")
    name, label = r"[a-zA-Z_:][a-zA-Z0-9_:]*", r'[a-z_]+="(?:[^"\\\n]|\\["\\n])*"'
    sample = re.compile(rf"{name}(?:\{{{label}(?:,{label})*\}})? \S+")
    note = re.compile(rf"# (?:TYPE {name} (?:counter|gauge|histogram|info)|UNIT {name} \w+|HELP {name} .*)")
    assert [line for line in lines if not (sample.fullmatch(line) or note.fullmatch(line))] == []
    assert 'soakage_requests_total{method="GET",route="/health",status="200"} 1' in lines
    assert 'soakage_requests_total{method="GET",route="other",status="404"} 2' in lines


def test_a_histogram_grows_from_edge_to_edge() -> None:
    metrics = Metrics()
    for seconds in (0.001, 0.02, 0.3, 99.0):
        metrics.add("GET", "/x", 200, seconds)
    counts = [int(n) for n in re.findall(r'bucket\{route="/x",le="[^"]+"\} (\d+)', metrics.text("1"))]
    assert counts == sorted(counts)
    assert counts[-1] == 4
    assert counts[-2] == 3
    assert 'sum{route="/x"} 99.321' in metrics.text("1")


def test_the_log_has_a_line_for_each_request_and_no_secret(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO, "soakage.web")
    client = outside_client()
    log_in(client)
    client.get("/more?find=a+name+of+a+plant", headers={"Authorization": "Bearer a-secret"})
    lines = [json.loads(Lines().format(record)) for record in caplog.records if record.name == "soakage.web"]
    told = [line for line in lines if line["event"] == "request"]
    assert {line["route"] for line in told} == {"/api/session", "/more"}
    assert set(told[0]) == {
        "time",
        "level",
        "logger",
        "event",
        "request",
        "method",
        "route",
        "status",
        "milliseconds",
    }
    whole = json.dumps(lines)
    for secret in (PASSWORD, "a+name", "a-secret", "csrf", client.cookies["__Host-soakage"]):
        assert secret not in whole


def test_logs_are_set_up_once_however_often(capsys: pytest.CaptureFixture[str]) -> None:
    kept = {name: logging.getLogger(name) for name in ("soakage", "uvicorn", "uvicorn.error")}
    before = {name: (lg.handlers[:], lg.level, lg.propagate) for name, lg in kept.items()}
    try:
        set_up()
        set_up()
        logging.getLogger("soakage.web").warning("heard")
        logging.getLogger("uvicorn.error").error("heard too")
        lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
        assert [line["event"] for line in lines] == ["heard", "heard too"]
    finally:
        for name, (handlers, level, propagate) in before.items():
            kept[name].handlers, kept[name].propagate = handlers, propagate
            kept[name].setLevel(level)


# ------------------------------------------------------------------------------------ the frame


def test_the_frame_marks_where_one_is(client: TestClient) -> None:
    text = client.get("/").text
    assert '<a href="/" aria-current="page">Start</a>' in text
    assert text.index('class="skip"') < text.index("<header")
    assert "Local codes and licensed practice come first" in text


@pytest.mark.parametrize(
    ("asked", "given"), (("dark", "dark"), ("sunlight", "sunlight"), ("pink", "system"), ("", "system"))
)
def test_the_look_follows_the_browser_or_what_was_chosen(client: TestClient, asked: str, given: str) -> None:
    client.cookies.set("soakage-look", asked)
    assert f'data-look="{given}"' in client.get("/").text
