"""Signed results: who stands for what, and what was altered since."""

from __future__ import annotations

import base64
import json
import stat
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from debrief.checkride.keys import new_key, read_private, read_public
from debrief.checkride.model import Item, Overrule, Row
from debrief.checkride.present import present_now
from debrief.checkride.results import Results
from debrief.checkride.signatures import Checked, Present, check, read_signatures, sign, signatures_json
from debrief.checkride.summary import summary_pdf
from debrief.checkride.written import summary_sum, summary_to_sign, write_results
from debrief.errors import DebriefError, OutputError
from debrief.reports.style import PAPERS
from tests.vectors import read_vectors

NOTHING = Present(tracks={}, procedures={}, standard=None)
WHEN = datetime(2026, 3, 9, 20, 0, tzinfo=UTC)


def results(**changes: object) -> Results:
    item = Item(item="Tracking, final", value=3.0, limit=7.5, unit="deg", margin=4.5, verdict="satisfactory")
    row = Row(
        file="ada.gpx",
        sha256="aa",
        pilot="Ada",
        result="satisfactory",
        items=(item,),
        report="reports/ada.pdf",
    )
    return Results(
        program="debrief 9",
        flights=(replace(row, **changes),),  # type: ignore[arg-type]
        procedures=({"name": "P", "file": "p.toml", "sha256": "pp", "path": ""},),
        standard={"name": "S", "file": "s.toml", "sha256": "ss", "path": ""},
    )


@pytest.fixture
def key(tmp_path: Path) -> Path:
    new_key(tmp_path / "key", "R. Quill")
    return tmp_path / "key"


@pytest.mark.parametrize("row", read_vectors("ed25519.csv"), ids=str)
def test_keys_sign_as_the_standard_says(tmp_path: Path, row) -> None:
    """RFC 8032, section 7.1, TEST 1 to 3. Mark: memory."""
    secret = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(row.secret))
    path = tmp_path / "key"
    path.touch(mode=0o600)
    path.write_bytes(secret.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))

    private, public = read_private(path)

    assert public.key.hex() == row.public
    assert private.sign(bytes.fromhex(row.message.removeprefix("0x"))).hex() == row.signature


def test_a_private_key_is_the_owners_only(key: Path, tmp_path: Path) -> None:
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    public = read_public(tmp_path / "key.pub")
    assert public.name == "R. Quill"
    assert base64.b64encode(public.key).decode() not in key.read_text()
    key.chmod(0o644)
    with pytest.raises(DebriefError, match="others may read this private key"):
        read_private(key)


def test_a_public_key_signs_nothing(key: Path) -> None:
    """Its reader was told to run chmod on it."""
    with pytest.raises(DebriefError, match=r"this is a public key.* Give the private one: key\."):
        read_private(key.with_name("key.pub"))


def test_a_name_of_bytes_that_are_no_text_can_be_kept(tmp_path: Path) -> None:
    assert new_key(tmp_path / "key", "Qu\udcffll").name == "Qu\\xffll"


def test_a_private_key_is_not_named_like_a_public_one(tmp_path: Path) -> None:
    """It was made, and then taken for a public one: no results could be signed with it, and it looked fit to be given away."""
    with pytest.raises(DebriefError, match=r"does not end in \.pub. .* name it quill\.key\."):
        new_key(tmp_path / "quill.key.pub", "R. Quill")
    assert list(tmp_path.iterdir()) == []


def test_what_is_no_key_is_not_to_be_locked_away(tmp_path: Path) -> None:
    """Of any other file it was said that others may read it."""
    (tmp_path / "club.toml").write_text("name = 'Club'")
    (tmp_path / "club.toml").chmod(0o644)

    with pytest.raises(DebriefError, match="this is no private key"):
        read_private(tmp_path / "club.toml")


def test_a_key_is_never_overwritten(key: Path) -> None:
    before = key.read_bytes()

    with pytest.raises(OutputError, match="it is there already"):
        new_key(key, "Somebody else")

    assert key.read_bytes() == before


def test_where_the_public_key_cannot_be_written_no_private_one_is_left(tmp_path: Path) -> None:
    (tmp_path / "key.pub").write_text("taken")

    with pytest.raises(OutputError):
        new_key(tmp_path / "key", "R. Quill")

    assert not (tmp_path / "key").exists()


def test_a_signature_holds_while_nothing_changes(key: Path, tmp_path: Path) -> None:
    entry = sign(results(), key, now=WHEN)
    (tmp_path / "signatures.json").write_text(signatures_json([entry]))

    (again,) = read_signatures(tmp_path)
    checked = check(again, results(report="elsewhere.pdf"), NOTHING)

    assert checked.holds
    assert (checked.by, checked.time) == ("R. Quill", "2026-03-09T20:00:00Z")
    assert checked.key == read_public(tmp_path / "key.pub").fingerprint


OVER = Overrule(result="unsatisfactory", by="B", time="2026-03-09T20:00:00Z", because="seen")


@pytest.mark.parametrize(
    ("changes", "altered"),
    [
        ({"result": "unsatisfactory"}, ("ada.gpx: the result",)),
        ({"pilot": "Bo"}, ("ada.gpx: the result",)),
        ({"sha256": "bb"}, ("ada.gpx: the log's sum", "ada.gpx: the result")),
        ({"overruled": OVER}, ("ada.gpx: an overrule",)),
        (
            {"file": "bo.gpx"},
            ("ada.gpx: it is no longer in the results", "bo.gpx: it was not in the results"),
        ),
    ],
)
def test_what_was_altered_in_the_results_is_named(
    key: Path, changes: dict[str, object], altered: tuple[str, ...]
) -> None:
    checked = check(sign(results(), key), results(**changes), NOTHING)

    assert checked.valid
    assert not checked.holds
    assert checked.altered == altered


def test_what_was_altered_on_the_disk_is_named(key: Path) -> None:
    present = Present(tracks={"ada.gpx": "cc"}, procedures={"pp": ("P", "qq")}, standard=("S", "tt"))

    checked = check(sign(results(), key), results(), present)

    assert checked.altered == ("ada.gpx: the log itself", "the procedure P", "the standard S")


def test_a_signature_stands_for_the_summary_too(key: Path, tmp_path: Path) -> None:
    """What people read and print was the one file of all that could be altered unseen."""
    (tmp_path / "summary.pdf").write_bytes(b"%PDF as it was")
    entry = sign(results(), key, summary=b"%PDF as it was")

    def now() -> Checked:
        return check(entry, results(), replace(NOTHING, summary=summary_sum(tmp_path)))

    assert now().holds
    assert now().unseen == ()
    (tmp_path / "summary.pdf").write_bytes(b"%PDF as it is")
    assert now().valid
    assert now().altered == ("the summary, summary.pdf",)
    (tmp_path / "summary.pdf").unlink()
    assert now().holds
    assert now().unseen == ("summary.pdf, which is not there",)


def test_a_signature_of_before_holds_and_is_said_not_to_stand_for_the_summary(key: Path) -> None:
    checked = check(sign(results(), key), results(), replace(NOTHING, summary="ab"))

    assert checked.holds
    assert checked.unseen == ("summary.pdf, for which the signature by R. Quill does not stand",)


def test_a_summary_is_signed_on_its_own_paper_and_made_anew_where_it_says_something_else(
    tmp_path: Path,
) -> None:
    for paper in PAPERS:
        write_results(results(), tmp_path, paper=paper)
        told = (tmp_path / "summary.pdf").read_bytes()
        assert summary_to_sign(results(), tmp_path) == (told, True)

    (tmp_path / "summary.pdf").write_bytes(told.replace(b"/Count", b"/count"))
    anew, stands = summary_to_sign(results(), tmp_path)
    assert not stands
    assert anew == summary_pdf(results(), "A4")
    (tmp_path / "summary.pdf").unlink()
    assert summary_to_sign(results(), tmp_path) == (anew, False)


@pytest.mark.parametrize("at", ["by", "time", "program", "public_key", "flights", "summary"])
def test_a_statement_that_was_altered_is_false(key: Path, at: str) -> None:
    entry = json.loads(json.dumps(sign(results(), key)))
    entry["statement"][at] = {} if at == "flights" else base64.b64encode(b"x" * 32).decode()

    assert not check(entry, results(), NOTHING).valid


def test_a_damaged_file_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "signatures.json").write_text('{"signatures": [{"statement": 3}]}')

    with pytest.raises(DebriefError, match="it holds no signatures"):
        read_signatures(tmp_path)
    assert read_signatures(tmp_path / "elsewhere") == []


def test_a_log_that_is_gone_is_said_not_to_be_looked_at(tmp_path: Path) -> None:
    """With every log gone from the folder, all was said to be unaltered; a device in its place was read."""
    assert "1 of the logs, the first ada.gpx" in present_now(results(), tmp_path).unseen

    (tmp_path / "ada.gpx").symlink_to("/dev/null")  # a device, which is no log

    assert "1 of the logs, the first ada.gpx" in present_now(results(), tmp_path).unseen
