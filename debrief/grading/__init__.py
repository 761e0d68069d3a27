"""What was flown held against a tolerance standard: verdicts, findings and their words."""

from debrief.grading.standard import Standard
from debrief.grading.standard_reader import bundled_standards, load_standard

__all__ = ["Standard", "bundled_standards", "load_standard"]
