"""The page in the language of who reads it: every sentence through the catalogue, in pages, scripts and reports."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import pytest

from debrief import web
from debrief.catalogue import sentences_in_template
from debrief.cli import main
from debrief.language import in_script, speaking, tr
from debrief.procedures import load_procedure
from debrief.reports.style import LINE_LOOKS
from debrief.web.maker import form_fields
from tests.web.conftest import TRACKS
from tests.web.site import Site

GERMAN = {"accept-language": "de-AT,de;q=0.9,en;q=0.5"}
TEMPLATES = sorted((Path(web.__file__).parent / "templates").glob("*.html"))
SCRIPTS = sorted((Path(web.__file__).parent / "static").glob("*.js"))
#: Names of phases in stored rows and in the words of a procedure, which are one for every reader.
STORED = {look.name for look in LINE_LOOKS.values()}
LEAST = 9  # letters: shorter ones stand in names and in German, too


def german(site, path):
    answer = site.browser.get(path, headers=GERMAN)
    assert answer.status_code == 200
    return answer


def plain(text):
    """What stands between the tags, as it is read."""
    text = re.sub(r"<(script|style)\b.*?</\1>|<meta[^>]*>", " ", text, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


@pytest.fixture(scope="module")
def pages(tmp_path_factory, log):
    """A page with flights of each kind, each looked at once, with a worker beside it."""
    site = Site(tmp_path_factory.mktemp("german"))
    odd = "when;Y;X;h\n" + "".join(f"2026-03-05T17:22:{s:02d}Z;47.1{s:02d};-31.9;3000\n" for s in range(60))
    site.ids = {
        "done": site.drop(log, "evening.gpx"),
        "two": site.drop((TRACKS / "sallow-two-attempts.gpx").read_bytes(), "two.gpx"),
        "asking": site.drop(odd.encode(), "odd.csv"),
        "refused": site.drop(b"\x89PNG\r\n\x1a\n" + bytes(99), "picture.png"),
    }
    site.work()
    with site.a_worker():
        for path in ("/flights/{done}", "/flights/{two}", "/board", "/pile"):
            site.browser.get(path.format(**site.ids), headers=GERMAN)
    return site


PATHS = (
    "/",
    "/flights/{done}",
    "/flights/{two}",
    "/flights/{asking}",
    "/flights/{refused}",
    "/flights/{done}/replay",
    "/pile",
    "/pile/{done}",
    "/procedures",
    "/procedures/new",
    "/procedures/new?from=lantern-vor-22",
    "/removed",
    "/help",
    "/interface",
)


@pytest.mark.parametrize("path", PATHS)
def test_no_sentence_of_ours_is_left_in_english(pages, path):
    """Held against the English sentences of all templates: none of them stands on a German page."""
    answer = german(pages, path.format(**pages.ids))
    text = plain(answer.text)

    assert 'html lang="de"' in answer.text
    assert answer.headers["content-language"] == "de"
    assert "Accept-Language" in answer.headers["vary"]
    english = set()
    for template in TEMPLATES:
        for found in sentences_in_template(template.read_text(encoding="utf-8")):
            for sentence in (found,) if isinstance(found, str) else found:
                english |= {part.strip() for part in re.split(r"<[^>]*>|{\w+}", sentence)}
    with speaking("de"):
        same = {
            sentence for sentence in english if sentence and tr(sentence) == sentence and len(sentence) < 30
        }
    for sentence in english - same - STORED:
        if len(sentence) >= LEAST:
            assert not re.search(rf"(?<!\w){re.escape(sentence)}(?!\w)", text), sentence


def test_the_report_is_there_in_both_languages(pages):
    """Dropped by somebody who reads English; a worker puts it into German at the first look."""
    flight = pages.ids["done"]
    english = plain(pages.get(f"/flights/{flight}").text)
    text = plain(german(pages, f"/flights/{flight}").text)

    assert "The course reversal was flown right of the outbound course" in english
    assert "wird ins Deutsche gebracht" not in text
    with speaking("de"):
        assert tr("What went well") in text
        assert tr("unsatisfactory").capitalize() in text
    assert "The course reversal was flown" not in text
    name = f"/flights/{flight}/files/plan-1-wide.svg?show"
    assert pages.get(name).content != german(pages, name).content
    assert (
        pages.get(f"/flights/{flight}/files/report.pdf").content
        != german(pages, f"/flights/{flight}/files/report.pdf").content
    )
    result = f"/flights/{flight}/files/result.json"
    assert pages.get(result).content == german(pages, result).content  # for programs: one language


def test_a_log_dropped_in_german_is_told_in_german_first(site, log):
    answer = site.browser.client.post(
        "/flights",
        data={"form_key": site.browser.form_key()},
        files={"log": ("abend.gpx", log)},
        headers=GERMAN,
        follow_redirects=False,
    )
    address = answer.headers["location"]
    site.work()

    text = plain(german(site, address).text)

    with speaking("de"):
        assert tr("What went well") in text
    assert "wird ins Deutsche gebracht" not in text
    assert "This report is being put into English." in site.get(address).text
    with site.a_worker():
        assert "What went well" in site.get(address).text


def test_a_report_that_cannot_be_put_into_a_language_says_why_and_waits_no_more(site, log):
    """The procedure that was made here and that it was held against is gone."""
    fields = form_fields(load_procedure("lantern-vor-22")) | {"name": "Lantern, my own"}
    key = site.post("/procedures", fields).headers["location"].removeprefix("/procedures/")
    flight = site.drop(log)
    site.post(f"/flights/{flight}/answers", {"procedure": key})
    site.work()
    (site.store.procedures / f"{key}.toml").unlink()

    with site.a_worker():
        text = german(site, f"/flights/{flight}").text

    assert "Dieser Bericht bleibt in der Sprache, in der er gemacht wurde" in text
    assert "data-again" not in text
    assert "What went well" in site.get(f"/flights/{flight}").text


def test_scripts_are_given_what_they_say(pages):
    found = re.search(r'name="script-words" content="([^"]*)"', german(pages, "/").text)
    words = json.loads(html.unescape(found[1]))

    for script in SCRIPTS:
        for sentence in in_script(script.read_text(encoding="utf-8")):
            assert words[sentence]
    assert words["sending"] == "wird gesendet"
    assert "script-words" not in pages.get("/").text
    scripts = [script.read_text(encoding="utf-8") for script in SCRIPTS if script.name != "words.js"]
    # none says it past the catalogue
    assert not any(re.search(r'textContent = ["`][A-Z]', text) for text in scripts)


@pytest.mark.parametrize(
    ("asked", "language"),
    [
        ("de", "de"),
        ("de-CH", "de"),
        ("fr, de;q=0.3, en;q=0.2", "de"),
        ("en;q=0.2, de;q=0.3", "de"),
        ("en, de", "en"),
        ("de;q=0, en", "en"),
        ("fr", "en"),
        ("", "en"),
        ("de;q=nonsense", "en"),
        ("x" * 5000, "en"),
    ],
)
def test_the_language_is_the_one_the_browser_likes_best(site, asked, language):
    """RFC 9110, 12.5.4 (memory): q from 0 (not acceptable) to 1, which is what stands for none."""
    answer = site.get("/help", headers={"accept-language": asked})
    assert answer.headers["content-language"] == language


def test_one_language_for_everybody(tmp_path):
    site = Site(tmp_path / "data", language="de")
    assert "Welche Logs lesbar sind" in site.get("/help", headers={"accept-language": "en"}).text


def test_a_refusal_is_in_the_language_too(site):
    answer = site.browser.get("/flights/none", headers=GERMAN)
    assert answer.status_code == 404
    assert "Einen solchen Flug gibt es nicht." in answer.text
    assert site.get("/api/v1/flights/none").json() == {"error": "There is no such flight."}


def test_an_unknown_language_is_one_clear_line(tmp_path, capsys):
    with pytest.raises(SystemExit) as left:
        main(["serve", "--no-browser", "--language", "xx", "--folder", str(tmp_path / "data")])
    assert left.value.code == 2
    assert capsys.readouterr().err.count("\n") == 1
