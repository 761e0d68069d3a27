"""Reading procedure files: what loads, and the whole text of what does not."""

from __future__ import annotations

import hashlib
import os
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from debrief.errors import ProcedureError
from debrief.procedures import bundled_procedures, load_procedure, procedures_in
from debrief.procedures.model import Pattern
from tests.procedures.practice import VALID, changed, message


def test_a_file_is_read_whole(folder: Path) -> None:
    (folder / "p.toml").write_text(VALID)

    procedure = load_procedure("p.toml")

    assert procedure.name == "Practice VOR/DME runway 22"
    assert procedure.issued == date(2026, 1, 15)
    assert procedure.file == "p.toml"
    assert procedure.sha256 == hashlib.sha256(VALID.encode()).hexdigest()
    assert [leg.phase for leg in procedure.leg] == [
        "inbound",
        "outbound",
        "course_reversal",
        "intermediate",
        "final",
    ]
    assert procedure.reversal is not None
    assert procedure.reversal.pattern is Pattern.PROCEDURE_TURN_45_180
    assert procedure.outbound_course_deg == 44
    assert procedure.inbound_course_deg == 224
    assert procedure.true_deg(224) == 213
    assert not procedure.station_on_aerodrome


def test_a_file_with_a_byte_order_mark_and_windows_line_ends_loads(folder: Path) -> None:
    (folder / "p.toml").write_bytes(b"\xef\xbb\xbf" + VALID.replace("\n", "\r\n").encode())

    assert load_procedure(folder / "p.toml").station.ident == "QXQ"


def test_a_bundled_procedure_is_found_by_its_name_in_any_case() -> None:
    assert load_procedure("lantern-vor-22") == load_procedure("Lantern-VOR-22")
    assert load_procedure("lantern-vor-22").file == "lantern-vor-22.toml"


def test_a_folder_is_read_in_order_of_names(folder: Path) -> None:
    (folder / "b.toml").write_text(changed("Practice", "Second"))
    (folder / "a.TOML").write_text(changed("Practice", "First"))
    (folder / "notes.txt").write_text("not a procedure")

    assert [p.name.split()[0] for p in procedures_in(folder)] == ["First", "Second"]


NAMES = ", ".join(Path(p.file).stem for p in bundled_procedures())


def test_an_unknown_name_offers_the_nearest() -> None:
    with pytest.raises(ProcedureError) as caught:
        load_procedure("lantern-vor-2")

    assert str(caught.value) == (
        'no procedure is called "lantern-vor-2". Did you mean "lantern-vor-22"? '
        f"Give a file (.toml) or one of {NAMES}."
    )


@pytest.mark.parametrize("name", ["zzz", "", " "])
def test_a_name_like_no_other_lists_them_all(name: str) -> None:
    with pytest.raises(ProcedureError) as caught:
        load_procedure(name)

    assert str(caught.value) == f'no procedure is called "{name}". Give a file (.toml) or one of {NAMES}.'


def test_a_missing_file_says_so(folder: Path) -> None:
    with pytest.raises(ProcedureError) as caught:
        load_procedure("none.toml")

    assert str(caught.value) == (
        "none.toml: there is no such file. Give a procedure file (.toml), or a name that `debrief procedures` lists."
    )


def test_a_folder_is_no_file(folder: Path) -> None:
    (folder / "p.toml").mkdir()

    with pytest.raises(ProcedureError) as caught:
        load_procedure("p.toml")

    assert str(caught.value) == "p.toml: this is a folder. Give one of the procedure files in it."


def test_a_pipe_is_no_file(folder: Path) -> None:
    os.mkfifo(folder / "p.toml")

    with pytest.raises(ProcedureError) as caught:
        load_procedure("p.toml")

    assert str(caught.value) == "p.toml: this is not an ordinary file. Give a procedure file (.toml)."


def test_a_huge_file_is_not_read(folder: Path) -> None:
    assert message(b"#" * 1_000_001, folder) == (
        "p.toml: the file has 1,000,001 bytes; a procedure has 1,000,000 at most. Give a procedure file (.toml)."
    )


def test_a_file_that_may_not_be_read_says_so(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "read_bytes", refuse)  # an administrator's account may read everything
    (folder / "p.toml").write_text(VALID)
    with pytest.raises(ProcedureError) as caught:
        load_procedure("p.toml")

    assert str(caught.value) == (
        "p.toml: the file cannot be read: Permission denied. Give a procedure file (.toml) that can be read."
    )


@pytest.mark.parametrize(
    ("content", "line"),
    [(b"\x89PNG\r\n\x1a\n\x00\x00", 1), (VALID.encode("utf-16"), 1), (b'a = 1\n\nname = "Caf\xe9"\n', 3)],
    ids=["picture", "utf-16", "latin-1"],
)
def test_what_is_not_text_says_so(content: bytes, line: int, folder: Path) -> None:
    assert message(content, folder) == (
        f"p.toml, line {line}: this is not text in UTF-8. A procedure file is TOML; save it as UTF-8."
    )


def test_an_empty_file_lacks_everything(folder: Path) -> None:
    assert (
        message("", folder)
        == "p.toml, key format: the key is missing. Add format = 1 (3 more mistakes in this file.)"
    )


def test_what_is_wrong_is_shown_on_one_line_and_short(folder: Path) -> None:
    text = message(changed('"left"', f'"le\\n\\u001b[31m{"x" * 500}"'), folder)

    assert text == (
        f'p.toml, key leg 3 (course_reversal).side: "le [31m{"x" * 31}…" is not known. Allowed: "left", "right".'
    )


def test_a_wrong_file_in_a_folder_is_named(folder: Path) -> None:
    (folder / "a.toml").write_text(VALID)
    (folder / "b.toml").write_text(changed("format = 1", "format = 3"))

    with pytest.raises(ProcedureError, match=r"b\.toml, key format: 3 is not known\. Allowed: 1\.$"):
        procedures_in(folder)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        (
            "none",
            "none: the folder cannot be read: No such file or directory. Give a folder that holds procedure files (.toml).",
        ),
        ("empty", "empty: there is no procedure file (.toml) in this folder. Give a folder that holds some."),
    ],
)
def test_a_folder_without_procedures_says_so(name: str, text: str, folder: Path) -> None:
    (folder / "empty").mkdir()

    with pytest.raises(ProcedureError) as caught:
        procedures_in(name)

    assert str(caught.value) == text


LINES = VALID.splitlines()
WORDS = st.one_of(
    st.sampled_from(
        [
            "1",
            "-1",
            "0",
            "1e400",
            "nan",
            "inf",
            "true",
            '""',
            '"left"',
            "[]",
            "[1, 2]",
            "{}",
            "{ a = 1 }",
            "1979-05-27",
            "07:32:00",
            "1979-05-27T07:32:00Z",
            "'''",
            "0x1F",
            '"\\u0000"',
            "{ dme_nm = 5.0 }",
            "{ between_ft = [1, 2] }",
            "360",
            "-180",
            '"racetrack"',
            '"base turn"',
            '"NDB"',
            '"outbound"',
            "[[[",
            "=",
        ]
    ),
    st.text(max_size=8),
    st.floats().map(repr),
)


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    changes=st.lists(
        st.tuples(
            st.integers(0, len(LINES) - 1), st.sampled_from(["drop", "twice", "value", "key", "swap"]), WORDS
        ),
        min_size=1,
        max_size=3,
    )
)
@example(changes=[(19, "value", "7")])
def test_any_change_loads_or_is_explained(changes: list[tuple[int, str, str]], folder: Path) -> None:
    lines = list(LINES)
    for number, how, word in changes:
        key, _, value = lines[number].partition(" = ")
        lines[number] = {
            "drop": "",
            "twice": f"{lines[number]}\n{lines[number]}",
            "value": f"{key} = {word}",
            "key": f"{word} = {value}",
            "swap": lines[number - 1],
        }[how]
    path = folder / "p.toml"
    path.write_bytes("\n".join(lines).encode("utf-8", "surrogatepass"))
    try:
        procedure = load_procedure(path)
    except ProcedureError as error:
        explained = str(error)
    else:
        assert procedure.final is not None
        return
    assert "\n" not in explained
    assert explained.startswith(str(path))
    assert "pydantic" not in explained


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=200))
def test_garbage_is_explained(content: bytes, folder: Path) -> None:
    assert "\n" not in message(content, folder)
