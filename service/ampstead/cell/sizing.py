"""Currents from rates, and powers in whole steps.

A rate of 1 is the current that moves the capacity in one hour. Charge in coulomb, power in watts.
"""

from math import ceil, floor

SLACK = 1e-9
HOUR = 3600.0


def rate_current(rate: float, charge: float) -> float:
    """Current, A, of a rate on a capacity in coulomb: I = rate·Q/3600 s."""
    return rate * charge / HOUR


def current_rate(current: float, charge: float) -> float:
    """Rate of a current on a capacity in coulomb."""
    return current * HOUR / charge


def stepped_up(power: float, step: float) -> float:
    """The next whole step at or above a power; a slack of 1e-9 keeps 385.0000000006 W at 385 W."""
    return ceil(power / step * (1 - SLACK)) * step


def stepped_down(power: float, step: float) -> float:
    """The next whole step at or below a power, with the same slack."""
    return floor(power / step * (1 + SLACK)) * step
