"""What was flown held against a tolerance standard: verdicts, findings and their words."""

from debrief.grading.findings import Judgement, judge
from debrief.grading.standard import Standard
from debrief.grading.standard_reader import DEFAULT_STANDARD, bundled_standards, load_standard

__all__ = ["DEFAULT_STANDARD", "Judgement", "Standard", "bundled_standards", "judge", "load_standard"]
