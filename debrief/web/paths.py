"""Every path of the page, with who may ask for it.

Owns      the table. Nothing is answered that does not stand here, but static files.
Not here  the checks (``guard``), the answers.
"""

from __future__ import annotations

from debrief.web import (
    api,
    pages_accounts,
    pages_board,
    pages_flights,
    pages_help,
    pages_pile,
    pages_procedures,
)
from debrief.web.guard import Path

PATHS: tuple[Path, ...] = (
    # the flights
    Path(path="/", handler=pages_flights.home, who="signed in", says="The flights."),
    Path(
        path="/flights",
        method="POST",
        handler=pages_flights.upload,
        who="signed in",
        says="Take logs from a form.",
    ),
    Path(
        path="/sample",
        method="POST",
        handler=pages_flights.try_sample,
        who="signed in",
        says="Debrief the sample.",
    ),
    Path(path="/removed", handler=pages_flights.removed_page, who="signed in", says="The flights removed."),
    Path(
        path="/flights/{flight}",
        handler=pages_flights.flight_page,
        who="signed in",
        says="One flight's report.",
    ),
    Path(
        path="/flights/{flight}/replay",
        handler=pages_flights.replay_page,
        who="signed in",
        says="One flight, moment by moment.",
    ),
    Path(
        path="/flights/{flight}/files/{name}",
        handler=pages_flights.file,
        who="signed in",
        says="One file of a flight.",
    ),
    Path(
        path="/flights/{flight}/answers",
        method="POST",
        handler=pages_flights.answer,
        who="signed in",
        says="Answer what is asked about a flight.",
    ),
    Path(
        path="/flights/{flight}/remove",
        method="POST",
        handler=pages_flights.remove,
        who="signed in",
        says="Remove a flight.",
    ),
    Path(
        path="/flights/{flight}/bring-back",
        method="POST",
        handler=pages_flights.bring_back,
        who="signed in",
        says="Bring a removed flight back.",
    ),
    # the examiner's pile
    Path(path="/pile", handler=pages_pile.pile_page, who="examiner or admin", says="Every submission."),
    Path(
        path="/pile/results.zip",
        handler=pages_pile.export,
        who="examiner or admin",
        says="The results as files.",
    ),
    Path(path="/pile/sign", method="POST", handler=pages_pile.sign, who="examiner", says="Sign the results."),
    Path(
        path="/pile/{flight}",
        handler=pages_pile.flight_page,
        who="examiner or admin",
        says="One submission beside its verdicts.",
    ),
    Path(
        path="/pile/{flight}/decisions",
        method="POST",
        handler=pages_pile.decide,
        who="examiner",
        says="Decide otherwise, with a reason.",
    ),
    Path(
        path="/board",
        handler=pages_board.board_page,
        who="signed in",
        says="The club's pilots over many flights; a pilot sees their own, and the club as a whole.",
    ),
    # procedures
    Path(path="/procedures", handler=pages_procedures.list_page, who="signed in", says="The procedures."),
    Path(
        path="/procedures/new",
        handler=pages_procedures.new_page,
        who="signed in",
        says="The form that makes a procedure.",
    ),
    Path(
        path="/procedures",
        method="POST",
        handler=pages_procedures.save,
        who="signed in",
        says="Save a procedure.",
    ),
    Path(
        path="/procedures/{procedure}",
        handler=pages_procedures.show_page,
        who="signed in",
        says="One procedure in words and as a picture.",
    ),
    Path(
        path="/procedures/{procedure}/file",
        handler=pages_procedures.file,
        who="signed in",
        says="A procedure's file.",
    ),
    # accounts
    Path(path="/sign-in", handler=pages_accounts.sign_in_page, who="anybody", says="The form to sign in."),
    Path(path="/sign-in", method="POST", handler=pages_accounts.sign_in, who="anybody", says="Sign in."),
    Path(path="/sign-out", method="POST", handler=pages_accounts.sign_out, who="signed in", says="Sign out."),
    Path(path="/account", handler=pages_accounts.account_page, who="signed in", says="One's own account."),
    Path(
        path="/account/password",
        method="POST",
        handler=pages_accounts.change_password,
        who="signed in",
        says="Change one's password.",
    ),
    Path(
        path="/account/tokens",
        method="POST",
        handler=pages_accounts.make_token,
        who="signed in",
        says="Make a token.",
    ),
    Path(
        path="/account/tokens/{token:int}/end",
        method="POST",
        handler=pages_accounts.end_token,
        who="signed in",
        says="End a token.",
    ),
    Path(path="/accounts", handler=pages_accounts.accounts_page, who="admin", says="Everybody's accounts."),
    Path(
        path="/accounts",
        method="POST",
        handler=pages_accounts.add_account,
        who="admin",
        says="Make an account.",
    ),
    Path(
        path="/accounts/{account:int}/close",
        method="POST",
        handler=pages_accounts.close_account,
        who="admin",
        says="Close an account.",
    ),
    Path(
        path="/accounts/{account:int}/open",
        method="POST",
        handler=pages_accounts.open_account,
        who="admin",
        says="Open an account again.",
    ),
    Path(path="/trail", handler=pages_accounts.trail_page, who="admin", says="What was done, by whom."),
    # words
    Path(path="/help", handler=pages_help.help_page, who="anybody", says="How it works."),
    Path(path="/interface", handler=api.api_page, who="signed in", says="The interface in words."),
    # the interface for scripts
    Path(
        path="/api/v1/openapi.json", handler=api.describe, who="signed in", says="This description (OpenAPI)."
    ),
    Path(path="/api/v1/me", handler=api.who, who="signed in", says="Whose token it is."),
    Path(
        path="/api/v1/procedures", handler=api.procedures, who="signed in", says="Procedures and standards."
    ),
    Path(
        path="/api/v1/procedures/check",
        method="POST",
        handler=pages_procedures.check,
        who="signed in",
        says="Check the form of a procedure: its mistakes by field, its words, its picture, its file.",
    ),
    Path(path="/api/v1/flights", handler=api.listed, who="signed in", says="The flights one may see."),
    Path(
        path="/api/v1/flights",
        method="POST",
        handler=api.add,
        who="signed in",
        says="Take in one log or several, each a part named log.",
    ),
    Path(
        path="/api/v1/flights/{flight}",
        handler=api.one,
        who="signed in",
        says="One flight, and where its debrief stands.",
    ),
    Path(
        path="/api/v1/flights/{flight}",
        method="DELETE",
        handler=api.remove,
        who="signed in",
        says="Remove a flight.",
    ),
    Path(
        path="/api/v1/flights/{flight}/bring-back",
        method="POST",
        handler=api.bring_back,
        who="signed in",
        says="Bring a removed flight back.",
    ),
    Path(
        path="/api/v1/flights/{flight}/answers",
        method="POST",
        handler=api.answer,
        who="signed in",
        says="Answer what is asked, or correct what was assumed; the flight is debriefed again.",
    ),
    Path(
        path="/api/v1/flights/{flight}/files/{name}",
        handler=pages_flights.file,
        who="signed in",
        says="A file of a result: report.pdf, report.png, result.json, track.geojson.",
    ),
    Path(
        path="/api/v1/pile",
        handler=pages_pile.pile_for_script,
        who="examiner or admin",
        says="The graded pile, as in results.json.",
    ),
    Path(
        path="/api/v1/pile/{flight}/decisions",
        method="POST",
        handler=pages_pile.decide_for_script,
        who="examiner",
        says="Decide otherwise on one item, or on the result: item, result, because.",
    ),
)
