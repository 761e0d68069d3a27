"""A log with more positions than any flight is refused before it fills the memory."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.errors import TrackError
from debrief.tracks.readers import read_track, samples

POSITIONS = 120
HEAD = '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'


def _times() -> list[str]:
    return [f"2026-03-01T10:{n // 60:02d}:{n % 60:02d}Z" for n in range(POSITIONS)]


def _gpx() -> str:
    points = (
        f'<trkpt lat="47.{n:04d}" lon="-31.2"><time>{time}</time></trkpt>' for n, time in enumerate(_times())
    )
    return HEAD + "".join(points) + "</trkseg></trk></gpx>"


def _csv() -> str:
    rows = (f"{time},47.{n:04d},-31.2,3000" for n, time in enumerate(_times()))
    return "\n".join(["time,latitude,longitude,altitude_ft", *rows])


def _kml() -> str:
    whens = "".join(f"<when>{time}</when>" for time in _times())
    places = "".join(f"<gx:coord>-31.2 47.{n:04d} 900</gx:coord>" for n in range(POSITIONS))
    spaces = 'xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"'
    return f"<kml {spaces}><Placemark><gx:Track>{whens}{places}</gx:Track></Placemark></kml>"


@pytest.mark.parametrize(("name", "text"), [("a.gpx", _gpx()), ("a.csv", _csv()), ("a.kml", _kml())])
def test_no_flight_has_so_many_positions(
    name: str, text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / name
    path.write_text(text)
    monkeypatch.setattr(samples, "MOST_SAMPLES", POSITIONS)
    assert len(read_track(path)) == POSITIONS

    monkeypatch.setattr(samples, "MOST_SAMPLES", POSITIONS - 1)
    with pytest.raises(TrackError) as refused:
        read_track(path)
    assert str(refused.value) == (
        f"{path}: it holds more than {POSITIONS - 1} positions, more than any flight. Cut the flight out of it."
    )
