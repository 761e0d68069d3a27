"""The flown track by phase, with findings and the procedure, for maps, sheets and notebooks.

``NAME.track.geojson``, ``NAME.track.kml`` and ``NAME.track.gpx`` open in any map, ``NAME.samples.csv`` and
``NAME.samples.parquet`` in any sheet or notebook. Which samples stand where: DEVELOPERS.md, "Samples".
"""

from debrief.reports.annotated.files import FORMATS, Format, annotated_files, formats_from

__all__ = ["FORMATS", "Format", "annotated_files", "formats_from"]
