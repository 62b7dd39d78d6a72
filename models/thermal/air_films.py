"""Heat transfer by the air in the machine, which depends on speed: air gap and end space."""

import numba
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@numba.njit(cache=True, error_model="numpy")
def taylor_number(speed: float, radius: float, gap: float, viscosity: float) -> float:
    """Return the Taylor number omega^2 r_m delta^3 / nu^2 of the air gap.

    Parameters
    ----------
    speed : float
        [rad/s].
    radius, gap : float
        Mean radius and radial width of the gap [m].
    viscosity : float
        Kinematic [m^2/s].
    """
    return float(speed**2 * radius * gap**3 / viscosity**2)


@numba.njit(cache=True, error_model="numpy")
def gap_nusselt(taylor: float) -> float:
    """Return the Nusselt number of an air gap, on twice the gap width.

    Parameters
    ----------
    taylor : float
        Taylor number of `taylor_number`.

    Returns
    -------
    float
        2 (still: pure conduction, h = Nu k / (2 delta) = k / delta), 0.128 Ta^0.367 to Ta = 1e4,
        0.409 Ta^0.241 to 1e7; never below 2.

    References
    ----------
    K. M. Becker and J. Kaye, J. Heat Transfer 84(2) 97, 1962, doi:10.1115/1.3684335 (from
    memory); smooth walls, slots raise it a little.
    """
    if taylor < 1700.0:
        return 2.0
    if taylor < 1e4:
        return float(max(2.0, 0.128 * taylor**0.367))
    return float(max(2.0, 0.409 * taylor**0.241))


@numba.njit(cache=True, error_model="numpy")
def end_space_coefficient(air_speed: float) -> float:
    """Return the heat-transfer coefficient in the end space, 15.5 (0.29 v + 1) [W/(m^2 K)].

    Parameters
    ----------
    air_speed : float
        Air speed at the surface [m/s].

    References
    ----------
    P. H. Mellor, D. Roberts, D. R. Turner, IEE Proc. B 138(5) 205, 1991 (from memory); totally
    enclosed machines, up to about 30 m/s, scatter between published forms +-40 %.
    """
    return 15.5 * (0.29 * air_speed + 1.0)


@numba.njit(cache=True, error_model="numpy")
def speed_factors(
    speed: Array, radius: float, gap: float, area: float, teeth: float, rotor: float,
    viscosity: float, conductivity: float, air_speed: float,
) -> Array:  # fmt: skip
    """Return gap-to-teeth, gap-to-rotor [W/K] and end-space factors [W/(m^2 K)], shape (n, 3).

    Parameters
    ----------
    speed : ndarray, shape (n,)
        [rad/s].
    radius, gap, area : float
        Mean radius [m], width [m] and area [m^2] of the air gap.
    teeth, rotor : float
        Conductances of the iron in series with the gap [W/K].
    viscosity, conductivity : float
        Of air [m^2/s], [W/(m K)].
    air_speed : float
        Air speed in the end space per speed of rotation [m].

    Notes
    -----
    The Nusselt number of the gap stands on twice its width (hydraulic diameter) and on the
    difference between the two walls, h = Nu k / (2 delta); each wall takes half of that
    difference, 2 h A.
    """
    out = np.empty((speed.shape[0], 3))
    for m in range(speed.shape[0]):
        w = abs(speed[m])
        film = gap_nusselt(taylor_number(w, radius, gap, viscosity)) * conductivity / (2.0 * gap)
        wall = 1.0 / (2.0 * film * area)
        out[m, 0] = 1.0 / (wall + 1.0 / teeth)
        out[m, 1] = 1.0 / (wall + 1.0 / rotor)
        out[m, 2] = end_space_coefficient(air_speed * w)
    return out
