"""Carter's factor: how much longer a slotted gap looks to the flux."""

from math import atan, log, pi, sqrt

from models.errors import InvalidInputError


def carter_factor(opening: float, gap: float, pitch: float) -> float:
    """Return Carter's factor by conformal mapping of an infinitely deep slot.

    Parameters
    ----------
    opening, gap, pitch : float
        Slot opening, gap and slot pitch at the gap [m], 0 <= opening < pitch, gap > 0.

    Returns
    -------
    float
        k_C = tau / (tau - gamma delta), at least 1, with
        gamma = (4/pi) [u atan(u) - ln sqrt(1 + u^2)], u = b / (2 delta).

    Raises
    ------
    InvalidInputError
        Outside the ranges.

    References
    ----------
    F. W. Carter, The Electrician, 1901 (from memory).
    """
    _check(opening, gap, pitch)
    u = 0.5 * opening / gap
    gamma = 4.0 / pi * (u * atan(u) - log(sqrt(1.0 + u * u)))
    return pitch / (pitch - gamma * gap)


def opening_factor(opening: float, gap: float) -> float:
    """Return how much longer the gap looks in front of a slot opening alone.

    Parameters
    ----------
    opening, gap : float
        [m], both > 0.

    Returns
    -------
    float
        b / (b - gamma delta): Carter's factor of a slot pitch no wider than the opening, so that a
        plain gap under the teeth and this one before the openings carry the same flux together.
    """
    u = 0.5 * opening / gap
    gamma = 4.0 / pi * (u * atan(u) - log(sqrt(1.0 + u * u)))
    return opening / (opening - gamma * gap)


def carter_factor_approximate(opening: float, gap: float, pitch: float) -> float:
    """Return Carter's factor by the usual approximation, within 0.3 % of the exact form.

    Parameters
    ----------
    opening, gap, pitch : float
        As for `carter_factor`.

    Returns
    -------
    float
        k_C = tau / (tau - kappa b), kappa = (b/delta) / (5 + b/delta).

    Raises
    ------
    InvalidInputError
        Outside the ranges.

    References
    ----------
    Pyrhonen, Jokinen, Hrabovcova, Design of Rotating Electrical Machines, 2nd ed., section 3.1
    (from memory).
    """
    _check(opening, gap, pitch)
    ratio = opening / gap
    return pitch / (pitch - ratio / (5.0 + ratio) * opening)


def _check(opening: float, gap: float, pitch: float) -> None:
    if not (0.0 <= opening < pitch and gap > 0.0):
        raise InvalidInputError(
            f"Carter's factor: opening {opening}, gap {gap}, pitch {pitch} m; needs "
            f"0 <= opening < pitch and gap > 0"
        )
