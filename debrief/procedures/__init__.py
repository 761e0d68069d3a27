"""What was to be flown: procedure files, their model, their geometry and their words."""

from debrief.procedures.model import Procedure
from debrief.procedures.toml_reader import (
    bundled_procedures,
    load_procedure,
    mistakes_in,
    procedures_in,
    procedures_offered,
)

__all__ = [
    "Procedure",
    "bundled_procedures",
    "load_procedure",
    "mistakes_in",
    "procedures_in",
    "procedures_offered",
]
