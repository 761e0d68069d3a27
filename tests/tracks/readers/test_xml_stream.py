"""XML is read in bounded memory, whatever stands in it."""

import pytest

from debrief.errors import TrackError
from debrief.tracks.readers import read_track, xml_stream


@pytest.mark.parametrize(
    "endless",
    [
        '<gpx version="1.1" creator="' + "x" * 1_200_000,
        "<gpx><!--" + "x" * 1_200_000,
        '<gpx><trk><trkseg><trkpt lat="1" lon="2"><extensions>' + "<a>1</a>" * 150_000,
        "<gpx><trk><name>" + "x" * 1_200_000,
    ],
    ids=["tag", "comment", "point", "text"],
)
def test_an_element_without_an_end_is_refused_before_it_fills_the_memory(tmp_path, monkeypatch, endless):
    monkeypatch.setattr(xml_stream, "_LONGEST_ELEMENT_MB", 1)
    path = tmp_path / "flight.gpx"
    path.write_text(endless)

    with pytest.raises(TrackError) as error:
        read_track(path)

    assert str(error.value) == (
        f"{path}: one of its elements is longer than 1 MB, which none of a log is. Export the log again."
    )


def test_a_log_longer_than_its_longest_element_may_be_is_read(tmp_path, monkeypatch):
    monkeypatch.setattr(xml_stream, "_LONGEST_ELEMENT_MB", 1)
    point = '<trkpt lat="47.1" lon="-31.2"><ele>900</ele><time>2026-05-04T10:{:02d}:{:02d}Z</time></trkpt>\n'
    points = [point.format(n // 60, n % 60) for n in range(3600)]
    path = tmp_path / "flight.gpx"
    path.write_text("<gpx><trk><trkseg>" + "".join(points) * 4 + "</trkseg></trk></gpx>")

    assert path.stat().st_size > 1_200_000
    assert len(read_track(path)) == 14_400
