"""The pile: decisions are kept beside the machine's verdicts, never lost; copies are found; what is signed is watched."""

from __future__ import annotations

import io
import json
import sqlite3
import zipfile

import pytest

from debrief.checkride.overrules import read_decisions
from debrief.checkride.results import read_results
from debrief.checkride.signatures import read_signatures
from tests.web.conftest import TRACKS
from tests.web.site import Site

CLEAN = (TRACKS / "lantern-clean.gpx").read_bytes()


@pytest.fixture(scope="module")
def pile(tmp_path_factory, log):
    """Two pilots' flights and one that cannot be read; Ben's is Ada's with another name."""
    site = Site(tmp_path_factory.mktemp("pile"), loopback=False)
    for name, role in (("Ada", "pilot"), ("Ben", "pilot"), ("Exa", "examiner")):
        site.add_account(name, role)
    ada, ben = site.signed_in("Ada"), site.signed_in("Ben")
    site.ids = {
        "wrong": site.drop(log, "ada.gpx", browser=ada),
        "copy": site.drop(log + b"\n", "ben.gpx", browser=ben),
        "clean": site.drop(CLEAN, "clean.gpx", browser=ada),
        "unreadable": site.drop(b"\x89PNG\r\n\x1a\n" + bytes(99), "picture.png", browser=ben),
    }
    site.work()
    site.looked_at(site.signed_in("Exa"), "/pile")
    return site


@pytest.fixture
def examiner(pile):
    return pile.signed_in("Exa")


def rows(examiner):
    return {row["file"].partition("/")[0]: row for row in examiner.get("/api/v1/pile").json()["flights"]}


def test_every_submission_has_a_row_with_its_pilot_and_result(pile, examiner):
    found = rows(examiner)

    assert {found[pile.ids[key]]["pilot"] for key in ("wrong", "clean")} == {"Ada"}
    assert found[pile.ids["wrong"]]["result"] == "unsatisfactory"
    assert found[pile.ids["clean"]]["result"] == "satisfactory"
    assert found[pile.ids["unreadable"]]["result"] == "unreadable"
    text = examiner.get("/pile").text
    assert all(name in text for name in ("Ada", "Ben", "clean.gpx", "picture.png"))


def test_a_copy_under_another_name_is_flagged_on_both_with_its_evidence(pile, examiner):
    found = rows(examiner)
    for one, other in (("wrong", "copy"), ("copy", "wrong")):
        flags = [flag for flag in found[pile.ids[one]]["flags"] if flag["sign"] == "copy"]
        assert [flag["other"].partition("/")[0] for flag in flags] == [pile.ids[other]]
        assert flags[0]["evidence"] in examiner.get(f"/pile/{pile.ids[one]}").text.replace("&#39;", "'")


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("show=unsatisfactory", {"wrong", "copy"}),
        ("show=signs", {"wrong", "copy"}),
        ("find=clean", {"clean"}),
        ("find=BEN", {"copy", "unreadable"}),
        ("show=nonsense&sort=nonsense", {"wrong", "copy", "clean", "unreadable"}),
    ],
)
def test_the_table_is_filtered(pile, examiner, query, expected):
    text = examiner.get(f"/pile?{query}").text

    assert {key for key, name in pile.ids.items() if f'href="/pile/{name}?' in text} == expected


def test_letters_of_a_flights_random_key_are_not_found(pile, examiner):
    key = pile.ids["wrong"]
    text = examiner.get(f"/pile?find={key[:6]}").text

    assert f'href="/pile/{key}?' not in text


def test_a_decision_stands_beside_the_machines_verdict_and_is_never_cut(pile, examiner):
    name = pile.ids["wrong"]
    answer = examiner.post(
        f"/pile/{name}/decisions",
        {
            "item": "result",
            "result": "satisfactory",
            "because": "cleared for a right turn <b>by</b> the tower",
        },
    )
    assert answer.status_code == 303
    row = rows(examiner)[name]
    assert (row["result"], row["decided"]) == ("unsatisfactory", "satisfactory")
    assert (row["overruled"]["by"], row["overruled"]["result"]) == ("Exa", "satisfactory")
    assert "&lt;b&gt;by&lt;/b&gt; the tower" in examiner.get(f"/pile/{name}").text

    item = next(item for item in row["items"] if item["verdict"] == "unsatisfactory")
    one = examiner.send(
        "POST",
        f"/api/v1/pile/{name}/decisions",
        data={"item": item["item"], "result": "satisfactory", "because": "the same"},
    ).json()
    assert next(i for i in one["items"] if i["item"] == item["item"])["overruled"]["because"] == "the same"

    back = examiner.post(
        f"/pile/{name}/decisions", {"item": "result", "result": "withdraw", "because": "a slip"}
    )
    assert back.status_code == 303
    assert rows(examiner)[name]["overruled"] is None
    with pile.store.open() as connection:
        assert connection.execute("SELECT count(*) FROM decision").fetchone()[0] == 3
        with pytest.raises(sqlite3.IntegrityError, match="kept"):
            connection.execute("DELETE FROM decision")
        told = [row["what"] for row in connection.execute("SELECT what FROM trail WHERE who = 'Exa'")]
    assert "decided satisfactory for unsatisfactory" in told
    assert "took a decision back" in told


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"item": "result", "result": "satisfactory", "because": "  "}, "reason"),
        ({"item": "result", "result": "marginal", "because": "x"}, "not marginal"),
        ({"item": "nothing like it", "result": "satisfactory", "because": "x"}, "has no item"),
        ({"item": "result", "result": "splendid", "because": "x"}, "no verdict is called"),
    ],
)
def test_a_decision_that_cannot_be_taken_is_told_and_nothing_is_kept(pile, examiner, fields, said):
    name = pile.ids["clean"]

    answer = examiner.send("POST", f"/api/v1/pile/{name}/decisions", data=fields)
    page = examiner.post(f"/pile/{name}/decisions", fields)

    assert (answer.status_code, page.status_code) == (400, 400)
    assert said in answer.json()["error"]
    assert "--" not in answer.json()["error"]
    assert rows(examiner)[name]["overruled"] is None


def test_what_is_exported_is_what_the_command_line_reads(pile, examiner, tmp_path):
    examiner.post("/pile/sign")
    answer = examiner.get("/pile/results.zip")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        archive.extractall(tmp_path)

    results = read_results(tmp_path)
    assert {row.file.partition("/")[0] for row in results.flights} == set(pile.ids.values())
    assert len((tmp_path / "results.csv").read_text(encoding="utf-8").splitlines()) == 1 + len(pile.ids)
    read_decisions(tmp_path)
    assert read_signatures(tmp_path)[-1]["statement"]["by"] == "Exa"


def test_a_signature_tells_what_was_altered_since(pile, examiner):
    examiner.post("/pile/sign")
    assert "nothing was altered since" in examiner.get("/pile").text

    examiner.post(
        f"/pile/{pile.ids['clean']}/decisions",
        {"item": "result", "result": "unsatisfactory", "because": "another aircraft was in the way"},
    )

    text = examiner.get("/pile").text
    assert "altered since" in text
    assert "an overrule" in text
    key = next((pile.store.folder / "keys").glob("*.pem"))
    assert key.stat().st_mode & 0o077 == 0
    with pile.store.open() as connection:
        stored = [json.loads(row["content"]) for row in connection.execute("SELECT content FROM signature")]
    assert all("signature" in entry for entry in stored)
