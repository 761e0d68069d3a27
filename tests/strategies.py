"""What Hypothesis draws, with the awkward places drawn on purpose."""

from __future__ import annotations

from hypothesis import strategies as st

from debrief.navigation.geodesy import StationPlane

#: The antimeridian from both sides, both hemispheres, 70 degrees, the equator and Greenwich.
AWKWARD_PLACES = (
    (-17.75, 179.98),
    (52.0, -179.999),
    (70.0, 25.0),
    (-70.0, -60.0),
    (0.0, 0.0),
    (-34.5, -58.4),
    (47.1234, -31.2345),
)


def bearings() -> st.SearchStrategy[float]:
    """Any bearing, with the cardinal points and the wrap often among them."""
    return st.one_of(
        st.sampled_from([0.0, 90.0, 180.0, 270.0, 359.999999]),
        st.floats(0.0, 360.0, exclude_max=True),
    )


def places() -> st.SearchStrategy[tuple[float, float]]:
    """Latitude and longitude of a station, up to 75 degrees."""
    return st.one_of(
        st.sampled_from(AWKWARD_PLACES),
        st.tuples(st.floats(-75.0, 75.0), st.floats(-180.0, 180.0, exclude_max=True)),
    )


def planes() -> st.SearchStrategy[StationPlane]:
    """The plane of such a station."""
    return places().map(lambda place: StationPlane(latitude_deg=place[0], longitude_deg=place[1]))
