"""The first schema: pilots, flights with their logs and results, approaches."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def _moment(name: str, *, nullable: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def _of_flight(table: str) -> tuple[sa.Column[Any], sa.ForeignKeyConstraint]:
    return (
        sa.Column("flight_id", sa.Integer, primary_key=True, autoincrement=False),
        sa.ForeignKeyConstraint(
            ["flight_id"], ["flight.id"], name=f"{table}_flight_id_of", ondelete="CASCADE"
        ),
    )


def _definitions(table: str) -> None:
    op.create_table(
        table,
        sa.Column("id", sa.Integer, sa.Identity(), primary_key=True),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("file", sa.Text, nullable=False),
        sa.Column("content", sa.JSON, nullable=False),
        sa.UniqueConstraint("sha256", name=f"{table}_sha256_once"),
    )


def upgrade() -> None:
    """Make every table."""
    op.create_table(
        "pilot",
        sa.Column("id", sa.Integer, sa.Identity(), primary_key=True),
        sa.Column("name", sa.String(120), nullable=False),
        sa.Column("folded", sa.String(240), nullable=False),
        sa.Column("alias", sa.String(120)),
        _moment("created"),
        sa.UniqueConstraint("folded", name="pilot_folded_once"),
        sa.UniqueConstraint("alias", name="pilot_alias_once"),
        sqlite_autoincrement=True,
    )
    _definitions("procedure")
    op.create_index("procedure_by_name", "procedure", ["name"])
    _definitions("standard")
    op.create_table(
        "flight",
        sa.Column("id", sa.Integer, sa.Identity(), primary_key=True),
        *(
            sa.Column(f"{other}_id", sa.Integer, nullable=False)
            for other in ("pilot", "procedure", "standard")
        ),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("file", sa.Text, nullable=False),
        _moment("started"),
        _moment("ended"),
        *(
            sa.Column(f"{end}_{axis}", sa.Float(53), nullable=False)
            for end in ("first", "last")
            for axis in ("latitude", "longitude")
        ),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("grade", sa.String(20)),
        sa.Column("remark", sa.Text, nullable=False),
        sa.Column("program", sa.String(60), nullable=False),
        sa.Column("reading", sa.JSON, nullable=False),
        _moment("added"),
        _moment("removed", nullable=True),
        sa.UniqueConstraint("sha256", name="flight_sha256_once"),
        *(
            sa.ForeignKeyConstraint([f"{other}_id"], [f"{other}.id"], name=f"flight_{other}_id_of")
            for other in ("pilot", "procedure", "standard")
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("flight_by_procedure", "flight", ["procedure_id", "started"])
    op.create_index("flight_by_pilot", "flight", ["pilot_id", "started"])
    op.create_index("flight_by_started", "flight", ["started"])
    for name in ("original", "result"):
        op.create_table(name, *_of_flight(name), sa.Column("content", sa.LargeBinary, nullable=False))
    op.create_table(
        "attempt",
        *_of_flight("attempt"),
        sa.Column("number", sa.Integer, primary_key=True),
        _moment("started"),
        sa.Column("ending", sa.String(20), nullable=False),
        sa.Column("grade", sa.String(20), nullable=False),
        sa.Column("wind_from_true_deg", sa.Float(53)),
        sa.Column("wind_speed_kt", sa.Float(53)),
        sa.Column("measures", sa.JSON, nullable=False),
        sa.Column("items", sa.JSON, nullable=False),
        sa.Column("path", sa.LargeBinary, nullable=False),
    )
