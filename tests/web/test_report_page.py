"""A page says what the report says: the same result, the same words, the same files."""

from __future__ import annotations

import json
from html import unescape

import pytest

import debrief
from debrief.reports import result_json, summary
from debrief.reports.findings import finding_words
from tests.web.conftest import TRACKS

FLIGHT = TRACKS / "lantern-wrong-side.gpx"


@pytest.fixture(scope="module")
def result():
    from debrief.reference import with_references

    return with_references(debrief.debrief_best(debrief.read_track(FLIGHT), debrief.bundled_procedures()))


@pytest.fixture(scope="module")
def text(debriefed):
    answer = debriefed.get(f"/flights/{debriefed.flight}")
    assert answer.status_code == 200
    return unescape(answer.text)


def test_the_page_has_every_sentence_of_page_one(text, result):
    said = [summary.title(result), summary.log_sentence(result), summary.fit_sentence(result)]
    said += [summary.flown_sentence(result), *summary.went_well(result)]
    for attempt, finding in summary.to_work_on(result):
        said += summary.work_sentences(result, attempt, finding)
    said += [practice.exercise for practice in summary.to_practise(result)]

    assert [sentence for sentence in said if sentence not in text] == []


def test_the_page_has_every_finding_and_every_item_of_the_standard(text, result):
    attempt = result.attempts[0]
    for finding in attempt.findings:
        words = finding_words(finding, None)
        assert {words.message, words.limit, words.value, words.verdict} <= {
            part for part in (words.message, words.limit, words.value, words.verdict) if part in text
        }
    assert [item.item for item in attempt.grade.items if item.item not in text] == []


def test_the_result_file_is_the_one_that_the_command_line_writes(debriefed, result):
    saved = debriefed.get(f"/flights/{debriefed.flight}/files/result.json")

    assert saved.text == result_json(result)


def test_every_file_can_be_saved_under_the_name_of_the_log(debriefed):
    starts = {"report.pdf": b"%PDF", "report.png": b"\x89PNG", "result.json": b"{", "track.geojson": b"{"}
    for name, start in starts.items():
        answer = debriefed.get(f"/flights/{debriefed.flight}/files/{name}")
        assert answer.content.startswith(start)
        assert 'filename="lantern-wrong-side' in answer.headers["content-disposition"]


def test_every_picture_on_the_page_is_there_in_both_sizes(debriefed, text):
    import re

    names = set(re.findall(r"/files/([a-z0-9-]+\.svg)\?show", text))
    assert {"plan-1-wide.svg", "plan-1-narrow.svg", "strips-1-wide.svg", "final-1-narrow.svg"} <= names
    for name in names:
        answer = debriefed.get(f"/flights/{debriefed.flight}/files/{name}?show")
        assert answer.status_code == 200
        assert b"<svg" in answer.content
        assert "sandbox" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("name", ["whole.json", "../secret", "..%2f..%2fsecret", "page.sqlite3", "x" * 500])
def test_no_other_file_is_given(debriefed, name):
    assert debriefed.get(f"/flights/{debriefed.flight}/files/{name}").status_code == 404


def test_the_replay_has_every_used_sample_and_the_findings_moments(debriefed, result):
    data = debriefed.get(f"/flights/{debriefed.flight}/files/replay.json?show").json()

    assert len(data["samples"]["t"]) == result.track.samples_used
    assert {len(column) for column in data["samples"].values()} == {result.track.samples_used}
    attempt = data["attempts"][0]
    assert [phase["phase"] for phase in attempt["phases"]] == [
        span.phase for span in result.attempts[0].phases
    ]
    assert [finding["number"] for finding in attempt["findings"]] == [
        finding.number for finding in result.attempts[0].findings
    ]
    begins = debrief.read_track(FLIGHT).epoch
    for mine, theirs in zip(attempt["phases"], result.attempts[0].phases, strict=True):
        assert mine["start"] == pytest.approx((theirs.start - begins).total_seconds(), abs=0.02)


def test_another_standard_is_judged_by_after_an_answer(site, log):
    flight = site.drop(log)
    site.work()

    site.post(f"/flights/{flight}/answers", {"standard": "training"})
    assert site.row(flight).state == "waiting"
    site.work()

    saved = json.loads(site.get(f"/flights/{flight}/files/result.json").text)
    assert saved["standard"]["name"] == debrief.load_standard("training").name


def test_a_table_with_headings_of_its_own_is_asked_about_and_then_read(site):
    rows = (TRACKS / "dateline-simulator.csv").read_text(encoding="utf-8")
    assert "latitude_deg" in rows
    own = rows.replace("latitude_deg", "Alpha").replace("longitude_deg", "Bravo")
    flight = site.drop(own.encode(), "own.csv")
    site.work()
    asked = site.row(flight)
    assert (asked.state, asked.asks["kind"]) == ("asking", "columns")
    position = {column["heading"]: column["position"] for column in asked.asks["columns"]}
    page = site.get(f"/flights/{flight}")
    assert "What is in which column?" in page.text

    twice = site.post(
        f"/flights/{flight}/answers",
        {f"column-{position['Alpha']}": "latitude", f"column-{position['Bravo']}": "latitude"},
    )
    assert twice.status_code == 400
    assert "Two columns cannot both be the latitude." in twice.text

    site.post(
        f"/flights/{flight}/answers",
        {f"column-{position['Alpha']}": "latitude", f"column-{position['Bravo']}": "longitude"},
    )
    site.work()
    assert site.row(flight).state == "done"


def test_a_log_from_elsewhere_is_asked_for_its_procedure(site):
    rows = "".join(
        f"2026-03-05T17:{m:02d}:{s:02d}Z,10.{m:02d}{s:02d},20.5,3000\n" for m in range(9) for s in range(60)
    )
    flight = site.drop(f"time,latitude,longitude,altitude_ft\n{rows}".encode(), "far.csv")
    site.work()

    asked = site.row(flight)

    assert (asked.state, asked.asks["kind"]) == ("asking", "procedure")
    assert "--procedure" not in site.get(f"/flights/{flight}").text


def test_times_without_a_day_are_asked_for_it(site):
    rows = (TRACKS / "brandel-sparse.csv").read_text(encoding="utf-8").splitlines()
    assert rows  # the sample's own rows are not needed: a clock alone is enough to ask
    body = "time,latitude,longitude,altitude_ft\n" + "".join(
        f"17:{m:02d}:{s:02d},47.1{m}{s:02d},-31.5,3000\n" for m in range(3) for s in range(60)
    )
    flight = site.drop(body.encode(), "clock.csv")
    site.work()
    assert site.row(flight).asks == {"kind": "date"}

    wrong = site.post(f"/flights/{flight}/answers", {"date": "yesterday"})
    assert "Write the date as 2026-03-05." in wrong.text
