"""Roles of a shared logbook: who is which pilot or an instructor, held to by PostgreSQL itself (row-level security)."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_OWN = ("flight", "pilot_id"), ("pilot", "id")
_OF_FLIGHT = ("original", "result", "attempt")


def upgrade() -> None:
    """Make the table of members; in PostgreSQL the functions and policies too."""
    op.create_table(
        "member",
        sa.Column("login", sa.String(63), primary_key=True),
        sa.Column("role", sa.String(10), nullable=False),
        sa.Column("pilot_id", sa.Integer),
        sa.ForeignKeyConstraint(["pilot_id"], ["pilot.id"], name="member_pilot_id_of", ondelete="CASCADE"),
    )
    connection = op.get_bind()
    if connection.dialect.name != "postgresql":
        return
    schema = connection.dialect.identifier_preparer.quote(
        str(connection.exec_driver_sql("SELECT current_schema()").scalar())
    )
    # They read the table of members for those who may not, and only for the login that asks.
    for name, column, kind in (("logbook_role", "role", "text"), ("logbook_pilot", "pilot_id", "integer")):
        op.execute(
            f"CREATE FUNCTION {name}() RETURNS {kind} LANGUAGE sql STABLE SECURITY DEFINER "
            f"SET search_path = {schema}, pg_temp "
            f"AS $$ SELECT {column} FROM member WHERE login = session_user $$"
        )
        op.execute(f"REVOKE ALL ON FUNCTION {name}() FROM PUBLIC")
    instructor = "(SELECT logbook_role()) = 'instructor'"
    for table, key in _OWN:
        _protect(table, f"{instructor} OR {key} = (SELECT logbook_pilot())")
    for table in _OF_FLIGHT:
        # the flights that may be seen there are those that their own policy lets through
        _protect(table, f"EXISTS (SELECT FROM flight WHERE flight.id = {table}.flight_id)")
    _protect("member", f"{instructor} OR login = session_user")


def _protect(table: str, rows: str) -> None:
    op.execute(f'ALTER TABLE "{table}" ENABLE ROW LEVEL SECURITY')
    op.execute(f'CREATE POLICY "{table}_of_role" ON "{table}" USING ({rows}) WITH CHECK ({rows})')
