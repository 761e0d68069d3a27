"""Every role on every path: who is let through, who is not, and that no path is left out of the table."""

from __future__ import annotations

import re
import subprocess
import sys
from contextlib import nullcontext

import pytest

from debrief.web import accounts, limits, sessions
from debrief.web.headers import HEADERS
from debrief.web.paths import PATHS
from tests.web.site import PASSWORD, Browser, Site

PILOT, OTHER, EXAMINER, ADMIN = "Ada", "Ben", "Exa", "Adm"
EVERYBODY = {PILOT, OTHER, EXAMINER, ADMIN, "nobody"}
SIGNED_IN = EVERYBODY - {"nobody"}
OWNER = SIGNED_IN - {OTHER}  # of Ada's flight: she, and who may see all
#: Who may ask for which path; written down here once more, not taken from the code.
MAY = {
    ("GET", "/"): SIGNED_IN,
    ("POST", "/flights"): SIGNED_IN,
    ("POST", "/sample"): SIGNED_IN,
    ("GET", "/removed"): SIGNED_IN,
    ("GET", "/flights/{flight}"): OWNER,
    ("GET", "/flights/{flight}/replay"): OWNER,
    ("GET", "/flights/{flight}/files/{name}"): OWNER,
    ("POST", "/flights/{flight}/answers"): OWNER,
    ("POST", "/flights/{flight}/remove"): OWNER,
    ("POST", "/flights/{flight}/bring-back"): OWNER,
    ("GET", "/pile"): {EXAMINER, ADMIN},
    ("GET", "/pile/results.zip"): {EXAMINER, ADMIN},
    ("POST", "/pile/sign"): {EXAMINER},
    ("GET", "/pile/{flight}"): {EXAMINER, ADMIN},
    ("POST", "/pile/{flight}/decisions"): {EXAMINER},
    ("GET", "/api/v1/pile"): {EXAMINER, ADMIN},
    ("POST", "/api/v1/pile/{flight}/decisions"): {EXAMINER},
    ("GET", "/board"): SIGNED_IN,
    ("GET", "/procedures"): SIGNED_IN,
    ("GET", "/procedures/new"): SIGNED_IN,
    ("POST", "/procedures"): SIGNED_IN,
    ("GET", "/procedures/{procedure}"): SIGNED_IN,
    ("GET", "/procedures/{procedure}/file"): SIGNED_IN,
    ("GET", "/sign-in"): EVERYBODY,
    ("POST", "/sign-in"): EVERYBODY,
    ("POST", "/sign-out"): SIGNED_IN,
    ("GET", "/account"): SIGNED_IN,
    ("POST", "/account/password"): SIGNED_IN,
    ("POST", "/account/tokens"): SIGNED_IN,
    ("POST", "/account/tokens/{token}/end"): SIGNED_IN,
    ("GET", "/accounts"): {ADMIN},
    ("POST", "/accounts"): {ADMIN},
    ("POST", "/accounts/{account}/close"): {ADMIN},
    ("POST", "/accounts/{account}/open"): {ADMIN},
    ("GET", "/trail"): {ADMIN},
    ("GET", "/help"): EVERYBODY,
    ("GET", "/interface"): SIGNED_IN,
    ("GET", "/api/v1/openapi.json"): SIGNED_IN,
    ("GET", "/api/v1/me"): SIGNED_IN,
    ("GET", "/api/v1/procedures"): SIGNED_IN,
    ("POST", "/api/v1/procedures/check"): SIGNED_IN,
    ("GET", "/api/v1/flights"): SIGNED_IN,
    ("POST", "/api/v1/flights"): SIGNED_IN,
    ("GET", "/api/v1/flights/{flight}"): OWNER,
    ("DELETE", "/api/v1/flights/{flight}"): OWNER,
    ("POST", "/api/v1/flights/{flight}/bring-back"): OWNER,
    ("POST", "/api/v1/flights/{flight}/answers"): OWNER,
    ("GET", "/api/v1/flights/{flight}/files/{name}"): OWNER,
}


def plain(path):
    return re.sub(r":\w+}", "}", path)


def test_the_table_has_every_path_and_no_other():
    assert {(path.method, plain(path.path)) for path in PATHS} == set(MAY)


@pytest.fixture(scope="module")
def club(tmp_path_factory, log):
    """A club whose pilot Ada has one flight; tests here leave it as it is, or do not mind."""
    site = Site(tmp_path_factory.mktemp("club"), loopback=False)
    for name, role in ((PILOT, "pilot"), (OTHER, "pilot"), (EXAMINER, "examiner"), (ADMIN, "admin")):
        site.add_account(name, role)
    site.flight = site.drop(log, browser=site.signed_in(PILOT))
    site.work()
    return site


@pytest.mark.parametrize("who", sorted(EVERYBODY))
@pytest.mark.parametrize(("method", "path"), sorted(MAY))
def test_who_may_ask_for_what(club, method, path, who):
    address = path.format(
        flight=club.flight, name="result.json", procedure="lantern-vor-22", token=99, account=2
    )
    browser = Browser(club.app, base="https://localhost") if who == "nobody" else club.signed_in(who)

    with club.a_worker() if "pile" in path or path == "/board" else nullcontext():
        answer = browser.send(method, address, follow_redirects=False)

    to_sign_in = answer.status_code == 303 and answer.headers["location"].startswith("/sign-in?then=")
    refused = answer.status_code in (401, 403) or to_sign_in
    hidden = answer.status_code == 404 and "There is no such flight." in answer.text
    if path == "/sign-in" and method == "POST":
        assert answer.status_code == 403  # let through, and the name is none
        assert "no account with this name" in answer.text
    else:
        assert (refused or hidden) == (who not in MAY[method, path]), answer.text[:300]
    assert answer.status_code < 500
    with club.store.open() as connection:  # what was closed or removed on the way is there again for the next
        connection.execute("UPDATE account SET closed_at = NULL")
        connection.execute("UPDATE flight SET removed_at = NULL WHERE id = ?", (club.flight,))


@pytest.mark.parametrize("path", [path for path in PATHS if path.method != "GET"], ids=lambda path: path.path)
def test_nothing_is_changed_without_the_key_of_the_form(club, path):
    browser = club.signed_in(ADMIN)
    address = plain(path.path).format(flight=club.flight, name="x", procedure="x", token=1, account=2)

    without = browser.client.request(path.method, address, follow_redirects=False)
    forged = browser.client.request(path.method, address, headers={"X-Form-Key": "x" * 32})
    elsewhere = browser.client.request(
        path.method,
        address,
        headers={"X-Form-Key": browser.form_key(), "Origin": "https://elsewhere.example"},
    )

    assert (without.status_code, forged.status_code, elsewhere.status_code) == (403, 403, 403)


def test_another_site_cannot_send_a_form_to_a_page_without_accounts(site):
    key = site.browser.form_key()
    for headers in (
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Cookie": ""},
    ):
        answer = site.browser.client.post("/sample", data={"form_key": key[::-1]}, headers=headers)
        assert answer.status_code == 403, headers


def test_a_page_on_loopback_answers_to_no_other_name(site):
    assert site.get("/", headers={"Host": "elsewhere.example"}).status_code == 400
    assert site.get("/", headers={"Host": "elsewhere.example:8765"}).status_code == 400
    for host in ("localhost", "localhost:8765", "127.0.0.1:9", "[::1]:8765"):
        assert site.get("/", headers={"Host": host}).status_code == 200


def test_a_script_on_the_same_machine_needs_no_token_where_there_are_no_accounts(site, log):
    client = Browser(site.app).client

    assert client.post("/api/v1/flights", files={"log": ("a.gpx", log)}).status_code == 202
    assert client.post("/flights", files={"log": ("a.gpx", log)}).status_code == 403
    as_browser = {"Origin": "https://elsewhere.example"}
    assert (
        client.post("/api/v1/flights", files={"log": ("b.gpx", log)}, headers=as_browser).status_code == 403
    )


def test_accounts_end_being_alone(site):
    assert site.get("/").status_code == 200
    site.add_account("Adm", "admin")

    answer = Browser(site.app).get("/", follow_redirects=False)

    assert answer.headers["location"] == "/sign-in?then=/"


def test_every_answer_forbids_what_is_not_needed(site):
    for path in ("/", "/help", "/nowhere", "/api/v1/nowhere", "/static/page.css", "/flights/none"):
        headers = site.get(path).headers
        assert {name: headers[name] for name in HEADERS} == HEADERS, path
    policy = HEADERS["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy


def test_no_template_holds_a_script_or_a_style_of_its_own(debriefed):
    for path in (
        "/",
        f"/flights/{debriefed.flight}",
        f"/flights/{debriefed.flight}/replay",
        "/procedures/new",
    ):
        text = debriefed.get(path).text
        assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son\w+=|javascript:", text), path
        assert not re.search(r"""(?:src|href|action)=["']?(?:https?:)?//""", text), path


def test_the_cookie_is_out_of_reach(club):
    answer = Browser(club.app, base="https://localhost").get("/sign-in")

    cookie = answer.headers["set-cookie"].lower()
    assert all(word in cookie for word in ("httponly", "samesite=strict", "secure", "path=/"))


def test_a_forged_cookie_signs_nobody_in(club):
    browser = club.signed_in(ADMIN)
    real = browser.client.cookies[sessions.COOKIE]
    for forged in (
        real[:-1] + ("0" if real[-1] != "0" else "1"),
        real.partition(".")[0],
        "x.y",
        "",
        "é.é".encode(),
    ):
        client = Browser(club.app, base="https://localhost").client
        client.cookies.clear()
        value = forged if isinstance(forged, bytes) else forged.encode()
        headers = [(b"cookie", sessions.COOKIE.encode() + b"=" + value)]
        assert client.get("/accounts", headers=headers, follow_redirects=False).status_code == 303


def test_a_session_ends_by_signing_out_by_age_and_by_idling(club, monkeypatch):
    browser = club.signed_in(PILOT)
    kept = browser.client.cookies[sessions.COOKIE]
    browser.post("/sign-out")
    browser.client.cookies.set(sessions.COOKIE, kept, domain="localhost.local")
    assert browser.get("/", follow_redirects=False).status_code == 303

    for limit in ("SESSION_S", "IDLE_S"):
        browser = club.signed_in(PILOT)
        assert browser.get("/", follow_redirects=False).status_code == 200
        with monkeypatch.context() as patch:
            patch.setattr(sessions, limit, -1.0)
            assert browser.get("/", follow_redirects=False).status_code == 303, limit


def test_signing_in_begins_a_new_session(club):
    browser = Browser(club.app, base="https://localhost")
    browser.get("/sign-in")
    before = browser.client.cookies[sessions.COOKIE]

    answer = browser.post("/sign-in", {"name": PILOT, "password": PASSWORD})

    assert answer.headers["location"] == "/"
    assert browser.get("/", follow_redirects=False).status_code == 200
    assert browser.client.cookies[sessions.COOKIE] != before


def test_sign_in_leads_nowhere_else(club):
    for then in (
        "https://elsewhere.example/",
        "//elsewhere.example",
        "/\\elsewhere.example",
        "javascript:alert(1)",
    ):
        browser = Browser(club.app, base="https://localhost")
        answer = browser.post("/sign-in", {"name": PILOT, "password": PASSWORD, "then": then})
        assert answer.headers["location"] == "/"


def test_failed_sign_ins_make_everybody_wait_even_with_the_right_password(tmp_path):
    club = Site(tmp_path, loopback=False)
    club.add_account(OTHER, "pilot")
    browser = Browser(club.app, base="https://localhost")
    for _ in range(limits.SIGN_INS_FAILED):
        answer = browser.post("/sign-in", {"name": OTHER, "password": "wrong wrong wrong"})
        assert "There is no account with this name and password" in answer.text

    answer = browser.post("/sign-in", {"name": OTHER, "password": PASSWORD})

    assert "Too many sign-ins failed" in answer.text


def test_nobody_signs_in_over_an_open_line_from_another_machine(club, monkeypatch):
    from starlette.testclient import TestClient

    client = TestClient(club.app, base_url="http://club.example", client=("192.0.2.7", 5000))
    page = client.get("/sign-in")
    assert "not encrypted" in page.text
    key = re.search(r'name="form-key" content="([^"]*)"', page.text)[1]

    answer = client.post("/sign-in", data={"form_key": key, "name": PILOT, "password": PASSWORD})

    assert answer.status_code == 403


def test_a_token_does_what_its_account_may_until_it_is_ended(club):
    browser = club.signed_in(PILOT)
    made = browser.post("/account/tokens", {"label": "nightly"})
    token = re.search(r'class="token">(dbf_[^<]+)<', made.text)[1]
    client = Browser(club.app, base="https://localhost").client
    bearer = {"Authorization": f"Bearer {token}"}

    assert client.get("/api/v1/me", headers=bearer).json() == {"name": PILOT, "role": "pilot"}
    assert client.get("/accounts", headers=bearer).status_code == 403
    assert client.get(f"/api/v1/flights/{club.flight}", headers=bearer).status_code == 200
    assert token not in browser.get("/account").text  # shown once

    number = re.findall(r"/account/tokens/(\d+)/end", browser.get("/account").text)[-1]
    browser.post(f"/account/tokens/{number}/end")
    assert client.get("/api/v1/me", headers=bearer).status_code == 401


def _closed(connection, account):
    accounts.close_account(connection, account)


def _closed_and_opened_again(connection, account):
    accounts.close_account(connection, account)
    accounts.open_again(connection, account)


def _another_password(connection, account):
    accounts.set_password(connection, account, "copper lantern meadow 3")


def _signed_out_of_time(connection, account):
    connection.execute("UPDATE session SET begun_at = 0 WHERE account = ?", (account.id,))
    connection.execute("UPDATE token SET ends_at = 0 WHERE account = ?", (account.id,))


def _ended_by_its_holder(connection, account):
    connection.execute("DELETE FROM session WHERE account = ?", (account.id,))
    for token in accounts.tokens(connection, account):
        accounts.end_token(connection, account, token.id)


def _forged(connection, account):
    connection.execute("UPDATE session SET key_sha256 = 'x' || key_sha256 WHERE account = ?", (account.id,))
    connection.execute("UPDATE token SET token_sha256 = 'x' || token_sha256 WHERE account = ?", (account.id,))


#: What ends the session and the token of an account: whether each still opens anything afterwards.
ENDS = {
    "closed": (_closed, {"session": False, "token": False}),
    "closed and opened again": (_closed_and_opened_again, {"session": False, "token": False}),
    "another password": (_another_password, {"session": False, "token": True}),
    "out of time": (_signed_out_of_time, {"session": False, "token": False}),
    "ended by its holder": (_ended_by_its_holder, {"session": False, "token": False}),
    "unknown to the database": (_forged, {"session": False, "token": False}),
}


ROLES = ("pilot", "examiner", "admin")


@pytest.mark.parametrize(
    ("end", "role", "loopback"),  # every two of them together; the guard asks for each by itself
    [
        pytest.param(end, role, (row + column) % 2 == 1, id=f"{end}-{role}")
        for row, end in enumerate(ENDS)
        for column, role in enumerate(ROLES)
    ],
)
def test_what_an_account_held_before_opens_nothing_once_it_has_ended(tmp_path, end, role, loopback):
    """On no path at all, in any role; where it was the only account, too."""
    site = Site(tmp_path / "data", loopback=loopback)
    account = site.add_account("Ada", role)
    browser = site.signed_in("Ada")
    with site.store.open() as connection:
        token = accounts.make_token(connection, account, "script")
        bearer = {"Authorization": f"Bearer {token}"}
        by_token = Browser(site.app, base="https://localhost").client
        assert browser.get("/api/v1/me").json()["role"] == role
        assert by_token.get("/api/v1/me", headers=bearer).json()["role"] == role
        act, still = ENDS[end]
        act(connection, account)

    for method, path in sorted(MAY):
        if MAY[method, path] == EVERYBODY:
            continue
        address = path.format(
            flight="none", name="result.json", procedure="lantern-vor-22", token=1, account=1
        )
        sent = {
            "session": browser.send(method, address, follow_redirects=False),
            "token": by_token.request(method, address, headers=bearer, follow_redirects=False),
        }
        for way, answer in sent.items():
            to_sign_in = answer.status_code == 303 and answer.headers["location"].startswith("/sign-in?then=")
            refused = answer.status_code in (401, 403) or to_sign_in
            if not still[way]:
                assert refused, (way, method, path, answer.status_code, answer.text[:200])
        if path == "/api/v1/me":
            assert (sent["token"].status_code == 200) == still["token"]
    signed_in = site.sign_in("Ada")[1]
    assert (signed_in.status_code == 303) == (end not in ("closed", "another password"))


def test_a_pilot_sees_only_their_own_flights(tmp_path, log):
    club = Site(tmp_path, loopback=False)
    for name, role in ((PILOT, "pilot"), (OTHER, "pilot"), (EXAMINER, "examiner")):
        club.add_account(name, role)
    theirs = {name: club.drop(log, browser=club.signed_in(name)) for name in (PILOT, OTHER)}

    seen = {
        name: {flight["id"] for flight in club.signed_in(name).get("/api/v1/flights").json()["flights"]}
        for name in (PILOT, OTHER, EXAMINER)
    }

    assert seen == {PILOT: {theirs[PILOT]}, OTHER: {theirs[OTHER]}, EXAMINER: set(theirs.values())}


@pytest.mark.parametrize(
    ("password", "name", "reason"),
    [
        ("short", "x", "characters"),
        ("x" * 129, "x", "characters"),
        ("aaaaaaaaaaaaaa", "x", "guessed"),
        ("password12345", "x", "guessed"),
        ("qwertyuiop12345", "x", "guessed"),
        ("Meredith2026!!", "Meredith", "guessed"),
    ],
)
def test_passwords_that_are_easily_guessed_are_refused(password, name, reason):
    with pytest.raises(accounts.AccountError, match=reason):
        accounts.check_password(password, name)


def test_the_trail_can_be_neither_changed_nor_cut(club):
    import sqlite3

    with club.store.open() as connection:
        accounts.note(connection, "a", "b", "c")
        for statement in ("UPDATE trail SET who = 'x'", "DELETE FROM trail"):
            with pytest.raises(sqlite3.IntegrityError, match="kept"):
                connection.execute(statement)


def test_a_changed_password_ends_every_session(club, tmp_path):
    site = Site(tmp_path, loopback=False)
    site.add_account(PILOT, "pilot")
    here, there = site.signed_in(PILOT), site.signed_in(PILOT)
    wrong = here.post("/account/password", {"old": "not this one at all", "new": "copper lantern meadow 3"})
    assert "another one" in wrong.text

    assert (
        here.post("/account/password", {"old": PASSWORD, "new": "copper lantern meadow 3"}).status_code == 303
    )

    assert here.get("/account").status_code == 200
    assert there.get("/account", follow_redirects=False).status_code == 303


def test_stored_secrets_are_sums(club):
    browser = club.signed_in(PILOT)
    key = browser.client.cookies[sessions.COOKIE].partition(".")[0]
    content = club.store.database.read_bytes() + (
        club.store.database.with_name("page.sqlite3-wal").read_bytes()
        if club.store.database.with_name("page.sqlite3-wal").exists()
        else b""
    )

    assert key.encode() not in content
    assert PASSWORD.encode() not in content
    assert b"$argon2id$" in content


def test_a_password_costs_what_rfc_9106_asks_for(tmp_path):
    """Its second recommended option, 4: Argon2id, 64 MiB, three passes, four lanes. Mark: memory."""
    code = (
        "import sys; from pathlib import Path; from debrief.web import accounts; from debrief.web.store import Store\n"
        f"store = Store(Path({str(tmp_path)!r})); store.make()\n"
        "with store.open() as connection:\n"
        f"    accounts.add_account(connection, 'Ada', 'pilot', {PASSWORD!r})\n"
        "    print(connection.execute('SELECT password FROM account').fetchone()[0])\n"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout

    assert said.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
