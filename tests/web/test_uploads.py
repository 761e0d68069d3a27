"""Uploads of every bad kind: refused with a reason, or inert."""

from __future__ import annotations

import gzip
import io
import zipfile

import pytest

from debrief.web import uploads
from debrief.web.headers import MOST_REQUEST_BYTES
from debrief.web.limits import MOST_UPLOADS_AT_ONCE

SCRIPT = "<img src=x onerror=alert(1)>.gpx"


def ended(site, content, name="log.gpx"):
    flight = site.drop(content, name)
    site.work()
    return site.row(flight)


def zipped(name, content):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return buffer.getvalue()


def bomb():
    """200 MB of zeros in 200 kB."""
    buffer = io.BytesIO()
    with gzip.GzipFile(fileobj=buffer, mode="wb", compresslevel=9) as packed:
        for _ in range(200):
            packed.write(bytes(1_000_000))
    return buffer.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj", id="a PDF"),
        pytest.param(b"\x89PNG\r\n\x1a\n" + bytes(200), id="a picture"),
        pytest.param(b"MZ" + bytes(500), id="a program"),
        pytest.param(b"<!DOCTYPE html><html><script>alert(1)</script></html>", id="a page"),
        pytest.param(zipped("notes.txt", "no log in here"), id="an archive without a log"),
        pytest.param(bytes(range(256)) * 40, id="noise"),
        pytest.param(
            b'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
            b'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>&b;</name></trk></gpx>',
            id="entities that grow",
        ),
    ],
)
def test_what_is_no_log_is_refused_with_a_reason_that_tells_no_path(site, content):
    flight = ended(site, content)

    assert flight.state == "refused"
    assert len(flight.said) > 20
    assert str(site.store.folder) not in flight.said
    assert "--" not in flight.said  # no options of a command line

    shown = site.get(f"/flights/{flight.id}")
    assert "This log cannot be used" in shown.text


def test_a_bomb_is_refused_while_it_swells(site):
    assert ended(site, bomb(), "bomb.gpx.gz").state == "refused"


def test_an_empty_file_is_refused_at_once(site):
    answer = site.send("POST", "/api/v1/flights", files={"log": ("empty.gpx", b"")})

    assert answer.status_code == 400
    assert answer.json()["logs"] == [
        {"file": "empty.gpx", "refused": "The file is empty. Export the log again."}
    ]


def test_a_log_larger_than_allowed_is_refused_and_nothing_of_it_is_kept(site, monkeypatch):
    monkeypatch.setattr(uploads, "MOST_UPLOAD_BYTES", 1000)

    answer = site.send("POST", "/api/v1/flights", files={"log": ("large.gpx", b"x" * 1001)})

    assert "larger" in answer.json()["logs"][0]["refused"]
    assert [
        path for path in site.store.folder.rglob("*") if path.is_file() and path.stat().st_size > 500_000
    ] == []
    assert list(site.store.arriving.iterdir()) == []


def test_a_gigabyte_is_refused_before_it_is_read(site):
    answer = site.browser.client.post(
        "/api/v1/flights", content=iter([b"x"]), headers={"Content-Length": str(10**9)}
    )

    assert answer.status_code == 413
    assert f"{MOST_REQUEST_BYTES / 1e6:.0f} MB" in answer.json()["error"]


def test_a_body_that_does_not_say_its_size_is_counted(site):
    pieces = (b"x" * 600_000 for _ in range(3))

    answer = site.browser.client.post(
        "/sign-in", content=pieces, headers={"Content-Type": "application/x-www-form-urlencoded"}
    )

    assert answer.status_code == 413


def test_too_many_files_at_once_are_refused_whole(site):
    files = [("log", (f"{number}.gpx", b"x")) for number in range(MOST_UPLOADS_AT_ONCE + 1)]

    answer = site.send("POST", "/api/v1/flights", files=files)

    assert answer.status_code in (400, 413)
    assert site.get("/api/v1/flights").json()["flights"] == []


def test_an_unknown_standard_is_refused_and_not_another_one_taken(site, log):
    answer = site.send("POST", "/api/v1/flights", files={"log": ("a.gpx", log)}, data={"standard": "../none"})

    assert answer.status_code == 400
    assert "Choose one of" in answer.json()["error"]
    assert site.get("/api/v1/flights").json()["flights"] == []


def test_an_hour_holds_only_so_many(site, monkeypatch, log):
    monkeypatch.setattr(uploads, "MOST_UPLOADS_AN_HOUR", 1)
    site.drop(log)

    answer = site.send("POST", "/api/v1/flights", files={"log": ("second.gpx", log + b"\n")})

    assert answer.status_code == 429


def test_a_full_disk_takes_nothing(site, monkeypatch, log):
    monkeypatch.setattr(uploads, "LEAST_FREE_BYTES", 10**18)

    assert site.send("POST", "/api/v1/flights", files={"log": ("a.gpx", log)}).status_code == 503


@pytest.mark.parametrize(
    "name",
    [
        "../../../outside.gpx",
        "..\\..\\outside.gpx",
        "/etc/outside.gpx",
        "C:\\outside.gpx",
        "....//outside.gpx",
        "outside.gpx\x00.exe",
        "con.gpx",
        "." * 300,
        "a" * 2000 + ".gpx",
    ],
)
def test_no_name_becomes_a_path(tmp_path, site, name):
    flight = ended(site, b"no log at all, but it is kept until somebody removes it", name)

    names = {path.name for path in tmp_path.rglob("*")}
    assert not any("outside" in entry or "con.gpx" in entry for entry in names)
    beside = {path.name.removesuffix("-wal").removesuffix("-shm") for path in tmp_path.iterdir()}
    assert beside == {"data", site.logbook.name}
    assert "/" not in flight.file
    assert len(flight.file) <= 120


def test_scripts_in_a_name_and_in_a_log_are_shown_as_text(site, log):
    evil = log.replace(b"<trk>", b"<trk><name>&lt;script&gt;alert(2)&lt;/script&gt;</name>", 1)
    flight = ended(site, evil, SCRIPT)

    for path in ("/", f"/flights/{flight.id}", f"/flights/{flight.id}/replay", "/removed"):
        text = site.get(path).text
        assert "<img src=x" not in text
        assert "<script>alert" not in text
    assert "&lt;img src=x onerror=alert(1)&gt;" in site.get(f"/flights/{flight.id}").text
    saved = site.get(f"/flights/{flight.id}/files/report.pdf").headers["content-disposition"]
    assert "<" not in saved.split("filename*=")[0]


def test_names_for_people_keep_what_people_need():
    assert uploads.plain_name("Abend Flug (2).gpx") == "Abend Flug (2).gpx"
    assert uploads.plain_name("夜.gpx") == "夜.gpx"
    assert uploads.plain_name("x" * 200 + ".gpx").endswith("….gpx")
    assert uploads.plain_name("..") == "unnamed"
