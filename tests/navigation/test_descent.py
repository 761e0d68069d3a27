"""Descent rates and gradients against the printed tables."""

import numpy as np
import pytest

from debrief.navigation.descent import angle_deg, descent_rate_ft_min, gradient_ft_nm

ANGLES_DEG = np.array([2.5, 2.75, 3.0, 3.25, 3.5, 4.0])

#: Rate of descent, ft/min, by ground speed and the angles above. Computed apart from this program.
RATES = {
    70: (310, 340, 372, 403, 434, 496),
    90: (398, 438, 478, 518, 557, 637),
    120: (531, 584, 637, 690, 743, 850),
    150: (663, 730, 796, 863, 929, 1062),
    180: (796, 876, 955, 1035, 1115, 1275),
}


@pytest.mark.parametrize("groundspeed_kt", RATES)
def test_rate_of_descent(groundspeed_kt):
    rates = descent_rate_ft_min(float(groundspeed_kt), ANGLES_DEG)

    np.testing.assert_allclose(rates, RATES[groundspeed_kt], rtol=0, atol=0.5)


@pytest.mark.parametrize(
    ("angle", "gradient"),
    [(2.5, 265.3), (2.75, 291.9), (3.0, 318.4), (3.25, 345.0), (3.5, 371.6), (3.77, 400.4), (4.0, 424.9)],
)
def test_gradient(angle, gradient):
    """3.00 deg is 318 ft/NM and 3.77 deg is 400 ft/NM: FAA Order 8260.3. Mark: seen (2nd hand)."""
    assert gradient_ft_nm(angle) == pytest.approx(gradient, abs=0.06)
    assert angle_deg(gradient, 1.0) == pytest.approx(angle, abs=0.001)


def test_five_times_the_ground_speed_is_a_little_less_than_three_degrees():
    """The rule reads about 6 % low. Mark: common practice."""
    for groundspeed_kt in RATES:
        assert 5 * groundspeed_kt / descent_rate_ft_min(float(groundspeed_kt), 3.0) == pytest.approx(
            0.94, abs=0.005
        )


def test_outside_their_domain():
    assert np.isnan(angle_deg(500.0, 0.0))
    assert np.isnan(angle_deg(500.0, -1.0))
    assert np.isnan(descent_rate_ft_min(float("nan"), 3.0))
