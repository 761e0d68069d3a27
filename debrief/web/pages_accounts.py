"""Pages about accounts: signing in and out, one's own password and tokens, everybody's accounts, the trail.

Owns      what these pages show and which change leads where.
Not here  the rules (``accounts``, ``sessions``).
"""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.responses import Response

from debrief.language import tr
from debrief.web import accounts, sessions
from debrief.web.accounts import ROLES, Account, AccountError
from debrief.web.answers import RefusedError, go_to, page
from debrief.web.guard import Ask

_LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost", "testclient"})


def sign_in_page(ask: Ask) -> Response:
    """The form to sign in; whoever is alone has no use for it."""
    if ask.alone or ask.account is not None:
        return go_to("/")
    return page(ask, "sign_in.html", said=_not_encrypted(ask), entered="", then=_then(ask))


def _then(ask: Ask) -> str:
    """Where to go afterwards: a path of ours, whatever was sent."""
    asked = ask.field("then") or ask.request.query_params.get("then", "/")
    parts = urlsplit(asked)
    inside = not parts.scheme and not parts.netloc and parts.path.startswith("/")
    return parts.path if inside and not parts.path.startswith(("//", "/\\")) else "/"


def _not_encrypted(ask: Ask) -> str:
    """Why nobody signs in over an open line from afar; "" where it is safe."""
    client = ask.request.client
    if ask.request.url.scheme == "https" or client is None or client.host in _LOOPBACK:
        return ""
    return tr(
        "This connection is not encrypted: others on the network could read your password, so nobody signs in here. "
        "Whoever keeps this page can give it a certificate; debrief serve --help says how."
    )


def sign_in(ask: Ask) -> Response:
    """Sign in, and go where one wanted to."""
    name, password = ask.field("name").strip(), ask.field("password")
    refused = _not_encrypted(ask)
    client = ask.request.client
    if refused:
        raise RefusedError(403, refused)
    outcome = sessions.sign_in(ask.connection, name, password, client.host if client is not None else "")
    if isinstance(outcome, str):
        return page(ask, "sign_in.html", status=403, said=outcome, entered=name, then=_then(ask))
    if ask.session.key:
        sessions.end(ask.connection, ask.session)
    ask.request.state.session = outcome
    return go_to(_then(ask))


def sign_out(ask: Ask) -> Response:
    """Sign out: the session ends on the server."""
    sessions.end(ask.connection, ask.session)
    response = go_to("/sign-in")
    response.delete_cookie(sessions.COOKIE, path="/", httponly=True, samesite="strict")
    response.headers["Clear-Site-Data"] = '"cache", "cookies", "storage"'
    return response


def _own(ask: Ask) -> Account:
    if ask.account is None:
        raise RefusedError(404, tr("There are no accounts here: you are alone on this machine."))
    return ask.account


def account_page(ask: Ask) -> Response:
    """One's own account."""
    return _account_page(ask)


def _account_page(ask: Ask, said: str = "", token: str = "") -> Response:
    return page(
        ask,
        "account.html",
        status=400 if said else 200,
        account=_own(ask),
        said=said,
        token=token,
        tokens=accounts.tokens(ask.connection, _own(ask)),
    )


def change_password(ask: Ask) -> Response:
    """Give oneself another password; every session ends, and a new one begins."""
    account = _own(ask)
    client = ask.request.client
    checked = sessions.sign_in(
        ask.connection, account.name, ask.field("old"), client.host if client is not None else ""
    )
    if isinstance(checked, str):
        return _account_page(ask, tr("The present password is another one."))
    try:
        accounts.set_password(ask.connection, account, ask.field("new"))
    except AccountError as error:
        return _account_page(ask, str(error))
    accounts.note(ask.connection, account.name, "changed the password", account.name)
    ask.request.state.session = sessions.begin(ask.connection, account)
    return go_to("/account")


def make_token(ask: Ask) -> Response:
    """Make a token, and show it this once."""
    account = _own(ask)
    token = accounts.make_token(ask.connection, account, ask.field("label"))
    accounts.note(ask.connection, account.name, "made a token", ask.field("label")[:60])
    return _account_page(ask, token=token)


def end_token(ask: Ask) -> Response:
    """End a token."""
    accounts.end_token(ask.connection, _own(ask), ask.request.path_params["token"])
    accounts.note(ask.connection, ask.name, "ended a token", str(ask.request.path_params["token"]))
    return go_to("/account")


def accounts_page(ask: Ask) -> Response:
    """Everybody's accounts."""
    return _accounts_page(ask, "", {})


def _accounts_page(ask: Ask, said: str, entered: dict[str, str]) -> Response:
    return page(
        ask,
        "accounts.html",
        status=400 if said else 200,
        accounts=accounts.accounts(ask.connection),
        roles=ROLES,
        said=said,
        entered=entered,
    )


def add_account(ask: Ask) -> Response:
    """Make an account."""
    name, role = ask.field("name"), ask.field("role")
    try:
        accounts.add_account(ask.connection, name, role, ask.field("password"))
    except AccountError as error:
        return _accounts_page(ask, str(error), {"name": name, "role": role})
    accounts.note(ask.connection, ask.name, "made an account", f"{name} ({role})")
    return go_to("/accounts")


def _meant(ask: Ask) -> Account:
    found = accounts.account_of(ask.connection, ask.request.path_params["account"])
    if found is None:
        raise RefusedError(404, tr("There is no such account."))
    return found


def close_account(ask: Ask) -> Response:
    """Close an account, unless it is one's own."""
    account = _meant(ask)
    if ask.account is not None and account.id == ask.account.id:
        raise RefusedError(
            400, tr("Your own account is closed by another admin, so that one is always left.")
        )
    accounts.close_account(ask.connection, account)
    accounts.note(ask.connection, ask.name, "closed an account", account.name)
    return go_to("/accounts")


def open_account(ask: Ask) -> Response:
    """Open it again."""
    account = _meant(ask)
    accounts.open_again(ask.connection, account)
    accounts.note(ask.connection, ask.name, "opened an account again", account.name)
    return go_to("/accounts")


def trail_page(ask: Ask) -> Response:
    """What was done, by whom, when."""
    return page(ask, "trail.html", rows=accounts.trail(ask.connection))
