"""Before the flight: what a procedure takes at a speed in a wind, computed from the procedure alone."""
