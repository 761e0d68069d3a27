"""The commands of the page: ``debrief serve``, and ``debrief accounts`` for whoever keeps it.

Owns      their options and the lines they print.
Not here  serving (``web.server``), accounts (``web.accounts``), catching errors (``cli``).
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from debrief.cli_terminal import CAUTION, complain, say

if TYPE_CHECKING:
    import sqlite3

    from debrief.web.accounts import Account

accounts_app = typer.Typer(help=f"Keep the accounts of the page that debrief serve shows.\n\n{CAUTION}")

Folder = Annotated[
    Path | None,
    typer.Option("--folder", metavar="DIR", help="The data folder; where not given, one of your own."),
]


def serve(
    host: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Where others may reach it; needs accounts then.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="The port; 0 takes any that is free.")] = 8765,
    folder: Folder = None,
    logbook: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="The logbook that flights go into and the board reads; your own where not given.",
        ),
    ] = None,
    language: Annotated[
        str, typer.Option(help="The language of every page; where not given, what each browser asks for.")
    ] = "",
    browser: Annotated[bool, typer.Option(help="Open the page in your own browser.")] = True,
    certificate: Annotated[
        Path | None, typer.Option(metavar="FILE.pem", help="The certificate, to serve over TLS (https).")
    ] = None,
    key: Annotated[
        Path | None, typer.Option(metavar="FILE.pem", help="The key that belongs to the certificate.")
    ] = None,
) -> None:
    """Show a page in your browser: drop logs, read and replay their debriefs, make procedures.

    What is debriefed goes into the logbook (debrief logbook list), and the board shows everybody in it.

    It needs no network. Alone on this machine it needs no accounts; with --host others can reach it, and it starts
    only once there are accounts (debrief accounts add NAME --role admin).
    """
    from debrief.errors import OutputError
    from debrief.language import known
    from debrief.logbook import default_address
    from debrief.web.server import Plan, can_show_a_browser
    from debrief.web.server import serve as serve_page

    if (certificate is None) != (key is None):
        raise OutputError("a certificate and its key go together", remedy="Give --certificate and --key.")
    for file in (certificate, key):
        if file is not None and not file.is_file():
            raise OutputError(f"{file}: there is no such file", remedy="Give a file in PEM.")
    plan = Plan(
        host=host,
        port=port,
        folder=_folder(folder),
        browser=browser and can_show_a_browser(),
        certificate=certificate,
        key=key,
        logbook=logbook if logbook is not None else default_address(),
        language=known(language) if language else "",
    )
    serve_page(plan, say)


def _folder(given: Path | None) -> Path:
    if given is not None:
        return given
    from platformdirs import user_data_path

    return user_data_path("debrief", appauthor=False) / "page"


@contextmanager
def _opened(folder: Path | None) -> Iterator[sqlite3.Connection]:
    from debrief.web.store import Store

    store = Store(_folder(folder))
    store.make()
    with store.open() as connection:
        yield connection


def _named(connection: sqlite3.Connection, name: str) -> Account:
    from debrief.web.accounts import AccountError, account_named

    found = account_named(connection, name)
    if found is None:
        raise AccountError(f"there is no account {name!r}", remedy="debrief accounts list names them.")
    return found


def _password() -> str:
    """A password, typed twice where somebody sits there, else the first line of standard input."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    from getpass import getpass

    from debrief.web.accounts import AccountError

    first = getpass("Password (12 characters at least; it is not shown): ")
    if getpass("Once more: ") != first:
        raise AccountError("the two passwords differ", remedy="Type it twice alike.")
    return first


Name = Annotated[str, typer.Argument(metavar="NAME", help="The account's name.")]


@accounts_app.command(epilog=CAUTION)
def add(
    name: Name,
    role: Annotated[
        Literal["pilot", "examiner", "admin"],
        typer.Option(help="A pilot sees their own flights; an examiner grades all; an admin keeps accounts."),
    ],
    folder: Folder = None,
) -> None:
    """Make an account. The password is asked for, or read from standard input."""
    from debrief.web.accounts import add_account, note

    with _opened(folder) as connection:
        made = add_account(connection, name, role, _password())
        note(connection, "command line", "made an account", f"{made.name} ({role})")
    say(f"Made: {made.name} ({role}).")


@accounts_app.command("list", epilog=CAUTION)
def list_accounts(folder: Folder = None) -> None:
    """List the accounts."""
    from debrief.web.accounts import accounts

    with _opened(folder) as connection:
        found = accounts(connection)
    for account in found:
        say(f"{account.name}  {account.role}{'  closed' if account.closed else ''}")
    if not found:
        complain("There are none yet: debrief accounts add NAME --role admin.")


@accounts_app.command(epilog=CAUTION)
def password(name: Name, folder: Folder = None) -> None:
    """Give an account another password; whoever is signed in with it must sign in again."""
    from debrief.web.accounts import note, set_password

    with _opened(folder) as connection:
        account = _named(connection, name)
        set_password(connection, account, _password())
        note(connection, "command line", "changed the password", account.name)
    say(f"Changed: {account.name}.")


@accounts_app.command("close", epilog=CAUTION)
def close_account(name: Name, folder: Folder = None) -> None:
    """Close an account: nobody signs in with it any more, its flights stay."""
    from debrief.web import accounts

    with _opened(folder) as connection:
        account = _named(connection, name)
        accounts.close_account(connection, account)
        accounts.note(connection, "command line", "closed an account", account.name)
    say(f"Closed: {account.name}. To open it again: debrief accounts open {account.name!r}.")


@accounts_app.command("open", epilog=CAUTION)
def open_account(name: Name, folder: Folder = None) -> None:
    """Open a closed account again."""
    from debrief.web import accounts

    with _opened(folder) as connection:
        account = _named(connection, name)
        accounts.open_again(connection, account)
        accounts.note(connection, "command line", "opened an account again", account.name)
    say(f"Open: {account.name}.")
