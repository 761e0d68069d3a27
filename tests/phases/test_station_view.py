"""What the station sees, against an independent geodesic library."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from debrief.choice import choose
from debrief.errors import TrackError
from debrief.phases.station_view import nearest_nm, observe
from debrief.procedures import bundled_procedures, load_procedure
from debrief.tracks.conditioning import condition
from debrief.tracks.model import Track
from tests import ensembles

ONE_METRE_NM = 1 / 1852
TENTH_DEG = 0.1


def straight_track(
    procedure, *, bearing_true_deg=40.0, seconds=600, start_nm=-8.0, altitude_ft=4000.0, speed_kt=120.0
):
    """A straight line over the station along the geodesic, one sample a second."""
    t_s = np.arange(float(seconds))
    line = Geodesic.WGS84.Line(procedure.station.latitude, procedure.station.longitude, bearing_true_deg)
    points = [line.Position((start_nm + speed_kt * t / 3600) * 1852) for t in t_s]
    return Track(
        file="straight.gpx",
        sha256="0" * 64,
        format="gpx",
        epoch=datetime(2026, 3, 1, tzinfo=UTC),
        t_s=t_s,
        latitude_deg=np.array([p["lat2"] for p in points]),
        longitude_deg=np.array([p["lon2"] for p in points]),
        altitude_ft=np.full(len(t_s), altitude_ft),
        altitude_source="gps",
        part=np.zeros(len(t_s)),
        line=t_s + 1,
    )


@pytest.mark.parametrize("procedure", bundled_procedures(), ids=lambda p: p.name)
def test_radial_and_distance_agree_with_geographiclib(procedure):
    """C. F. F. Karney's library, at every twentieth sample of a straight flight; also across 180 degrees."""
    track = straight_track(procedure)
    view, _, _ = observe(condition(track), procedure)

    for i in range(0, len(view), 20):
        k = round(view.t_s[i])
        line = Geodesic.WGS84.Inverse(
            procedure.station.latitude,
            procedure.station.longitude,
            track.latitude_deg[k],
            track.longitude_deg[k],
        )
        assert view.distance_nm[i] == pytest.approx(line["s12"] / 1852, abs=ONE_METRE_NM)
        if view.distance_nm[i] > 0.2:
            radial = (line["azi1"] - procedure.station.declination_deg) % 360
            assert abs((view.radial_deg[i] - radial + 180) % 360 - 180) < TENTH_DEG


def test_speed_closing_and_cone_of_a_straight_flight():
    procedure = load_procedure("lantern-vor-22")
    view, at, _ = observe(condition(straight_track(procedure)), procedure)

    assert view.groundspeed_kt == pytest.approx(np.full(len(view), 120.0), abs=0.2)
    assert np.abs(view.turn_rate_deg_s).max() < 0.05
    passage_s = 8.0 / 120.0 * 3600
    assert at(np.array([passage_s - 1.0])).closing_kt[0] > 0 > at(np.array([passage_s + 1.0])).closing_kt[0]
    height_nm = (4000.0 - procedure.station.elevation_ft) * 0.3048 / 1852
    inside = view.t_s[view.in_cone]
    # ICAO Doc 8168 Vol I, I-2-2, 2.4.4: 50 degrees from the vertical for a VOR. Mark: seen
    assert (inside[-1] - inside[0]) / 3600 * 120 / 2 == pytest.approx(
        height_nm * np.tan(np.radians(50)), abs=0.05
    )
    assert view.dme_nm.min() == pytest.approx(height_nm, abs=0.01)


def test_a_track_elsewhere_is_refused_with_the_distance():
    far = straight_track(load_procedure("ember-vor-17"))

    with pytest.raises(
        TrackError, match=r"^straight\.gpx: its nearest point lies [\d,]+ NM from station"
    ) as refusal:
        observe(condition(far), load_procedure("frosthelm-vor-04"))

    assert "--procedure" in str(refusal.value)


def test_a_track_beyond_the_window_is_seen_by_nobody():
    procedure = load_procedure("lantern-vor-22")
    log = condition(straight_track(procedure, start_nm=60.0))

    view, at, noise = observe(log, procedure)

    assert len(view) == 0
    assert np.isnan(at(np.array([5.0])).distance_nm[0])
    assert np.isnan(noise.position_nm)
    assert nearest_nm(log, procedure) == pytest.approx(60.0, abs=0.1)


def test_the_noise_of_a_recorder_is_learned():
    case = next(
        iter(
            ensembles.clean_flights(1, sensor=ensembles.Sensor(position_noise_m=8.0, altitude_noise_ft=15.0))
        )
    )

    _, _, noise = observe(condition(case.track), case.procedure)

    assert noise.position_nm * 1852 == pytest.approx(8.0, rel=0.15)
    assert noise.altitude_ft == pytest.approx(15.0, rel=0.3)


def test_a_log_with_latitude_and_longitude_exchanged_is_told() -> None:
    """Both ways in: against a procedure that was given, and where the best fitting one is looked for."""
    procedure = load_procedure("lantern-vor-22")
    track = straight_track(procedure)
    track = replace(track, latitude_deg=track.longitude_deg, longitude_deg=track.latitude_deg)

    for refused in (lambda: observe(condition(track), procedure), lambda: choose(track, [procedure])):
        with pytest.raises(TrackError, match="Its latitudes and longitudes seem to be exchanged"):
            refused()
