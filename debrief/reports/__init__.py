"""Views of a result: the printed report, its picture, and the result file."""

from debrief.reports.files import write_report
from debrief.reports.result_json import read_result, result_json

__all__ = ["read_result", "result_json", "write_report"]
