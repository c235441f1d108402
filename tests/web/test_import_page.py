"""Import by page and API: what each file is, how tables are read, tried, taken in, refused; and what is never done."""

from __future__ import annotations

import csv
import io
import re
import time
from typing import Any

import pytest
from fastapi.testclient import TestClient

from kept_rig import PAGE, words
from soakage.demo.make import demo_files
from soakage.web.accounts import Role
from soakage.web.batches import MOST_FILES, Batches, name_of
from soakage.wiring.house_rules import own_profile
from web_help import log_in, outside_client, token

TABLE = (
    "Date;Asset;Class;R 60 s (MΩ);R 600 s (MΩ);Temp\n"
    "03.04.2025;Pump 1;rotating-machine;120,5;400;21\n14.04.2025;Pump 2;rotating-machine;90;95;22\n"
)
GOOD = ("drain-pump-3-u.csv", demo_files()["drain-pump-3-u.csv"])
BAD = ("=cmd.csv", demo_files()["drain-pump-4.csv"].replace('"6.6 kV"', '"plenty"', 1))


class Importer:
    """A person who brings files in by the page."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.headers = PAGE | token(client)
        self.place = ""

    def bring(self, *files: tuple[str, str | bytes], status: int = 303) -> str:
        given = [
            ("files", (name, text if isinstance(text, bytes) else text.encode())) for name, text in files
        ]
        answer = self.client.post("/import", files=given, headers=self.headers, follow_redirects=False)
        assert answer.status_code == status, answer.text[:300]
        self.place = answer.headers.get("location", "")
        return self.settled() if status == 303 else words(answer.text)

    def settled(self) -> str:
        """Wait until nothing goes on, and return the page as a person reads it."""
        for _ in range(300):
            text = self.client.get(self.place, headers=PAGE).text
            if "data-job" not in text:
                return words(text)
            time.sleep(0.1)
        raise AssertionError("it never ended")

    def do(self, what: str, status: int = 303) -> str:
        answer = self.client.post(f"{self.place}/{what}", headers=self.headers, follow_redirects=False)
        assert answer.status_code == status, answer.text[:300]
        if status != 303 or what == "forget":
            return words(answer.text)
        self.settled()
        return words(self.client.get(f"{self.place}/result", headers=PAGE).text)

    def table(self, typed: dict[str, str] | None = None, status: int = 200) -> str:
        address = f"{self.place}/tables/1"
        if typed is None:
            return words(self.client.get(address, headers=PAGE).text)
        answer = self.client.post(address, data=typed, headers=self.headers)
        assert answer.status_code == status
        return words(answer.text)


@pytest.fixture
def importer(client: TestClient) -> Importer:
    return Importer(client)


def test_record_files_are_taken_in_and_their_verdicts_lead_to_the_tests(importer: Importer) -> None:
    text = importer.bring(GOOD, ("drain-pump-3-v.csv", demo_files()["drain-pump-3-v.csv"]))
    assert "Ready to be taken in." in text
    assert "Take in 2 files" in text
    assert text.count("record file") == 2
    tried = importer.do("try")
    assert "2 tests would come in, 1 new asset." in tried
    assert "nothing was kept" in tried
    assert importer.client.get("/api/assets").json()["assets"] == []
    done = importer.do("take")
    assert "2 tests came in, 1 new asset." in done
    raw = importer.client.get(f"{importer.place}/result", headers=PAGE).text
    (first, *_) = re.findall(r'href="(/tests/[0-9a-f]{32})"', raw)
    assert importer.client.get(first, headers=PAGE).status_code == 200
    assert "2 files known already" in importer.do("take")


def test_what_is_refused_is_told_with_file_field_reason_and_what_to_do(importer: Importer) -> None:
    importer.bring(GOOD, BAD, ("noise.bin", bytes(range(256)) * 9))
    text = importer.do("take")
    assert "1 test came in, 1 new asset, 2 files refused." in text
    raw = importer.client.get(f"{importer.place}/refused.csv")
    assert raw.headers["content-disposition"].startswith("attachment")
    rows = list(csv.DictReader(io.StringIO(raw.content.decode("utf-8-sig"))))
    assert {row["file"] for row in rows} == {
        "'=cmd.csv",
        "noise.bin",
    }  # a name that looks like a formula is none
    assert all(row["problem"] and row["what_to_do"] for row in rows)
    assert any(row["field"] == "rated_voltage" and "plenty" in row["given"] for row in rows), rows
    for row in rows:
        assert not any(value.startswith(("=", "+", "-", "@")) for value in row.values())


def test_a_table_asks_what_it_does_not_tell_and_is_read_by_its_recipe_the_next_time(
    importer: Importer,
) -> None:
    text = importer.bring(("pumps.csv", TABLE), ("more.csv", TABLE.replace("Pump", "Fan")))
    assert "1 table to settle first." in text
    assert "pumps.csv and 1 with the same columns" in text
    assert "Which unit are the figures under Temp in?" in text
    assert importer.do("take", 409).count("A question is open: pumps.csv.") == 1
    page = importer.table()
    assert "The delimiter is the semicolon." in page
    assert "The first records are shown when nothing is open." in page
    refused = importer.table({"keep": "1", "name": "Pumps"}, 422)
    assert "The recipe is kept once nothing is open." in refused
    read = importer.table({"q-column.6.unit": "degC", "q-constants.test_voltage": "500 V"})
    assert "2 records in pumps.csv." in read
    assert "120 MΩ" in read or "121 MΩ" in read or "120.5 MΩ" in read
    kept = importer.table({"keep": "1", "name": "Pumps"})
    assert "The recipe is kept as “Pumps”." in kept
    done = importer.do("take")
    assert "4 tests came in, 4 new assets." in done
    again = importer.bring(("april.csv", TABLE.replace("Pump", "Mill")))
    assert "Ready to be taken in." in again
    assert "Read by your recipe “Pumps”." in again
    toml = importer.client.get(f"{importer.place}/tables/1/recipe.toml")
    assert toml.text.startswith("soakage-recipe = 1") or "soakage-recipe = 1" in toml.text
    assert 'unit = "degC"' in toml.text


def test_a_column_read_wrongly_is_corrected_on_the_page(importer: Importer) -> None:
    importer.bring(("pumps.csv", TABLE.replace(";Temp", ";Temp (°C)")))
    page = importer.table({"use-6": "ignore"})
    assert "2 records in pumps.csv." in page
    raw = importer.client.get(f"{importer.place}/tables/1", headers=PAGE).text
    assert re.search(r'name="use-6".*?<option value="ignore" selected>', raw, re.DOTALL)
    importer.table({"use-5": "reading:resistance", "at-5": "300 s"})
    recipe = importer.client.get(f"{importer.place}/tables/1/recipe.toml").text
    assert 'at = "300 s"' in recipe
    wrong = importer.table({"at-5": "as soon as possible"}, 422)
    assert "at-5" not in wrong
    assert "300 s" in importer.client.get(f"{importer.place}/tables/1/recipe.toml").text


def test_a_recipe_that_was_shared_reads_the_table(importer: Importer) -> None:
    importer.bring(("pumps.csv", TABLE.replace(";Temp", ";Temp (°C)")))
    text = importer.client.get(f"{importer.place}/tables/1/recipe.toml").text
    shared = text.replace("R 600 s (MΩ)", "R 600 s (MΩ)")
    address = f"{importer.place}/tables/1/recipe"

    def send(**more: Any) -> Any:
        return importer.client.post(address, headers=importer.headers, **more)

    assert send(files={"file": ("shared.toml", shared.encode())}).status_code == 200
    assert "2 records" in importer.table()
    broken = send(files={"file": ("shared.toml", b"soakage-recipe = 9")})
    assert broken.status_code == 422
    assert "This version is not known." in words(broken.text)
    assert send(data={"kept": "No such one"}).status_code == 422
    assert send(data={"kept": ""}).status_code == 422


@pytest.mark.parametrize(
    ("given", "shown"),
    (
        ("../../etc/passwd", "passwd"), ("C:\\data\\a.csv", "a.csv"), ("a\x00b\n.csv", "ab.csv"), ("", "file"),
        (None, "file"), ("/", "file"), ("x" * 500, "x" * 120), ("..", ".."),
    ),
)  # fmt: skip
def test_a_name_is_only_shown(given: str | None, shown: str) -> None:
    assert name_of(given) == shown


def test_no_path_from_an_upload_is_used() -> None:
    batches = Batches()
    batch = batches.new("T. Ester")
    kept = batch.add("../../outside.csv", io.BytesIO(b"x"))
    assert kept.path.parent == batch.folder
    assert kept.path.name == "0001"
    assert batches.get(batch.id, "Somebody Else") is None
    batches.drop(batch)
    assert not batch.folder.exists()
    batches.close()


def test_the_oldest_batches_are_forgotten_with_their_files() -> None:
    batches = Batches()
    made = [batches.new("T. Ester") for _ in range(25)]
    assert len(batches.of("T. Ester")) == 20
    assert [one.folder.exists() for one in made] == [False] * 5 + [True] * 20
    root = made[-1].folder.parent
    batches.close()
    assert not root.exists()


def test_there_is_an_end_to_how_many(importer: Importer) -> None:
    assert "No file was chosen." in importer.bring(("", b""), status=422)
    many = [(f"{number}.csv", "x") for number in range(MOST_FILES + 1)]
    assert "Too many files." in importer.bring(*many, status=422)


def test_a_file_whose_reading_dies_costs_only_itself(
    importer: Importer, monkeypatch: pytest.MonkeyPatch
) -> None:
    from soakage.wiring.apart import Apart, LostError

    true = Apart.ask

    def ask(self: Apart, task: Any, path: Any, name: str, *more: Any, **rest: Any) -> Any:
        if name == "slow.csv":
            raise LostError("Reading it took longer than 60 s and was stopped.")
        return true(self, task, path, name, *more, **rest)

    monkeypatch.setattr(Apart, "ask", ask)
    text = importer.bring(GOOD, ("slow.csv", "x"))
    assert "Reading it took longer than 60 s and was stopped." in text
    assert "1 test came in, 1 new asset, 1 file refused." in importer.do("take")


def test_what_is_not_wanted_is_forgotten(importer: Importer) -> None:
    importer.bring(GOOD)
    assert "Looked at" in words(importer.client.get("/import", headers=PAGE).text)
    importer.do("forget")
    assert importer.client.get(importer.place, headers=PAGE).status_code == 404


@pytest.mark.parametrize("path", ("/import/none", "/import/none/tables/1", "/import/none/result"))
def test_what_is_not_there_is_said(client: TestClient, path: str) -> None:
    answer = client.get(path, headers=PAGE)
    assert answer.status_code == 404
    assert "Choose them again." in words(answer.text)


def test_only_who_may_test_brings_files_in() -> None:
    client = outside_client(("Reader", Role.READ), ("Tester", Role.TEST))
    log_in(client, "Reader")
    given = [("files", (GOOD[0], GOOD[1].encode()))]
    assert client.post("/api/import", files=given, headers=token(client)).status_code == 403
    log_in(client, "Tester")
    answer = client.post("/api/import", files=given, headers=token(client))
    assert answer.status_code == 202
    log_in(client, "Reader")
    assert client.get(f"/api/import/{answer.json()['id']}").status_code == 403


def test_the_api_does_what_the_page_does(client: TestClient) -> None:
    headers = token(client)
    files = [("files", (name, text.encode())) for name, text in (GOOD, ("pumps.csv", TABLE))]
    brought = client.post("/api/import", files=files, headers=headers).json()
    place = f"/api/import/{brought['id']}"

    def settled() -> Any:
        for _ in range(300):
            told = client.get(place).json()
            if told["job"]["state"] not in ("waiting", "running"):
                return told
            time.sleep(0.1)
        raise AssertionError("it never ended")

    told = settled()
    assert [one["kind"] for one in told["files"]] == ["record file", "table"]
    assert not told["ready"]
    (table,) = told["tables"]
    assert [one["setting"] for one in table["questions"] if one["required"]] == ["column.6.unit"]
    assert client.post(f"{place}/outcomes", json={}, headers=headers).status_code == 409
    body = {"answers": {"column.6.unit": "degC"}, "keep": "Pumps"}
    read = client.put(f"{place}/tables/{table['number']}", json=body, headers=headers).json()
    assert (read["kept"], read["tried"]["count"]) == ("Pumps", 2)
    assert client.put(f"{place}/tables/9", json=body, headers=headers).status_code == 404
    assert client.get(f"{place}/outcome").status_code == 204
    assert client.post(f"{place}/outcomes", json={"dry_run": True}, headers=headers).status_code == 202
    settled()
    assert client.get(f"{place}/outcome").json()["tests_added"] == 3
    client.post(f"{place}/outcomes", json={}, headers=headers)
    settled()
    outcome = client.get(f"{place}/outcome").json()
    assert (outcome["dry_run"], outcome["added"], outcome["refused"]) == (False, 2, 0)
    assert client.get(f"{place}/refused.csv").text.count("\n") == 1
    assert client.delete(place, headers=headers).status_code == 204
    assert client.get(place).status_code == 404


def test_the_rules_the_store_is_set_to_judge_what_comes_in(client: TestClient, importer: Importer) -> None:
    from importlib.resources import files

    name = "edition-2000.toml"
    content = (files("soakage.demo") / name).read_bytes()
    used = own_profile(name, content)
    body = {"file": name, "toml": content.decode()}
    told = client.put("/api/settings/profile", json=body, headers=token(client)).json()
    assert told["profile"] == {"id": used.id, "title": used.title, "sha256": used.sha256, "own": True}
    importer.bring(GOOD)
    importer.do("take")
    raw = client.get(f"{importer.place}/result", headers=PAGE).text
    (test, *_) = re.findall(r'href="/tests/([0-9a-f]{32})"', raw)
    verdicts = client.get(f"/api/tests/{test}").json()["verdicts"]
    assert [one["profile"] for one in verdicts] == [used.id]
