"""The common result of the circuit and the field model: what everything after them reads."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

D_SPACING, Q_SPACING = 1.5, 1.35
"""Exponents of the spacing of i_d and i_q (1 is uniform)."""
ROTOR_FLUX_SPACING = 1.6
"""The same of i_d in rotor-flux axes."""


def map_axes(current_peak: float, *, d_points: int, q_points: int) -> tuple[Array, Array]:
    """Return the i_d (up to zero) and the i_q (from zero) of a map up to an amplitude [A].

    Both stand closer near zero: psi_d bends where bridges come out of saturation, psi_q where the
    rotor saturates, in a machine of many turns at a tenth of its largest current. With uniform
    i_q the spline between them errs by 1.2 % of the largest psi_q (median of the worst places of
    random buried-magnet designs) instead of 0.6, and overshoots in strongly saturated reluctance
    rotors until psi_q falls with current.
    """
    d = -current_peak * np.linspace(1.0, 0.0, d_points) ** D_SPACING
    return d, current_peak * np.linspace(0.0, 1.0, q_points) ** Q_SPACING


def rotor_flux_axes(current_peak: float, *, d_points: int, q_points: int) -> tuple[Array, Array]:
    """Return the i_d and i_q, both from zero, of a cage machine's map up to an amplitude [A].

    i_d stands closer near zero: linkage bends at a small part of the largest current.
    """
    d = current_peak * np.linspace(0.0, 1.0, d_points) ** ROTOR_FLUX_SPACING
    return d, np.linspace(0.0, current_peak, q_points)


@dataclass(frozen=True, eq=False)
class FluxMaps:
    """Flux linkages and loss fluxes over a grid of dq currents, averaged over rotor position.

    The grid covers i_d <= 0 and i_q >= 0; negative i_q follows from symmetry (psi_d even,
    psi_q odd in i_q, losses even). All amplitudes are peak values, whole machine.

    Attributes
    ----------
    i_d : ndarray, shape (n_d,)
        Ascending, last value 0 [A].
    i_q : ndarray, shape (n_q,)
        Ascending, first value 0 [A].
    psi_d, psi_q : ndarray, shape (n_d, n_q)
        Flux linkages without end-winding leakage [Wb].
    psi_d_per_remanence, psi_q_per_remanence : ndarray, shape (n_d, n_q)
        Derivative of the linkages with respect to magnet remanence [Wb/T]: carries the maps to
        another magnet temperature.
    remanence : float
        Remanence the maps were solved at [T].
    magnet_temperature : float
        Magnet temperature the maps were solved at [degC].
    end_inductance : float
        End-winding leakage inductance per phase [H]; adds L i to both axes.
    iron_hysteresis, iron_classical, iron_excess : ndarray, shape (n_d, n_q)
        Stator iron loss is  a f + b f^2 + c f^1.5  with these coefficients at electrical
        frequency f [W/Hz, W/Hz^2, W/Hz^1.5], build factor included.
    rotor_hysteresis, rotor_classical, rotor_excess : ndarray, shape (n_d, n_q)
        The same for the rotor's iron, which sees only harmonics.
    magnet_ripple : ndarray, shape (n_d, n_q)
        Amplitude of the magnets' flux-density ripple at six times electrical frequency [T].
    magnet_slot_ripple : ndarray, shape (n_d, n_q)
        The same at the frequency of the slots passing by (slots per pole pair times electrical
        frequency); zero where that is six times too.
    tooth_peak, yoke_peak : ndarray, shape (n_d, n_q)
        Largest flux density in teeth and yoke over position [T].
    cage_loss : ndarray, shape (n_d, n_q), or None
        Loss in bars and rings of a cage machine [W], whose maps are in rotor-flux axes and cover
        i_d >= 0: slip frequency is p cage_loss / torque. None for synchronous machines.
    """

    i_d: Array
    i_q: Array
    psi_d: Array
    psi_q: Array
    psi_d_per_remanence: Array
    psi_q_per_remanence: Array
    remanence: float
    magnet_temperature: float
    end_inductance: float
    iron_hysteresis: Array
    iron_classical: Array
    iron_excess: Array
    rotor_hysteresis: Array
    rotor_classical: Array
    rotor_excess: Array
    magnet_ripple: Array
    magnet_slot_ripple: Array
    tooth_peak: Array
    yoke_peak: Array
    cage_loss: Array | None = None
