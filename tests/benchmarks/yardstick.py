"""The process that a whole report is held against: gpxpy reads the file, matplotlib draws three plain pages."""

from __future__ import annotations

import sys


def main(arguments: list[str]) -> int:
    """Read the first file, write the second."""
    import gpxpy
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    with open(arguments[0], encoding="utf-8") as file:
        gpx = gpxpy.parse(file)
    points = [point for track in gpx.tracks for segment in track.segments for point in segment.points]
    minutes = [(point.time - points[0].time).total_seconds() / 60.0 for point in points]
    pages = (
        ([point.longitude for point in points], [point.latitude for point in points]),
        (minutes, [point.elevation for point in points]),
        (minutes, [point.latitude for point in points]),
    )
    with PdfPages(arguments[1]) as pdf:
        for across, up in pages:
            figure = Figure(figsize=(8.27, 11.69))
            figure.add_subplot().plot(across, up)
            pdf.savefig(figure)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
