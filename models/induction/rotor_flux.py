"""Linkages, cage loss and slip of a cage machine over stator currents in rotor-flux axes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.errors import SolverError
from models.induction.circuit import CageCircuit

Array = NDArray[np.float64]

STEPS = 40
"""Steps of Newton's method before giving up."""
TOLERANCE = 1e-9
"""Largest current error over the largest current at which the map is solved."""
DIFFERENCE = 1e-5
"""Step of the difference quotients, over the scale of the unknown."""


@dataclass(frozen=True, eq=False)
class RotorFluxState:
    """Steady states in rotor-flux axes, arrays of one shape; peak values.

    Attributes
    ----------
    i_d, i_q : ndarray
        Stator currents [A].
    psi_d, psi_q : ndarray
        Stator linkages without end winding [Wb].
    rotor_flux, rotor_current : ndarray
        Referred rotor linkage (along d) [Wb] and rotor current (along q, negative when motoring)
        [A].
    stator_iron, rotor_iron : ndarray
        Amplitude of the linkage that passes each side's iron [Wb].
    rotor_resistance : ndarray
        Referred cage resistance with skin effect [ohm].
    """

    i_d: Array
    i_q: Array
    psi_d: Array
    psi_q: Array
    rotor_flux: Array
    rotor_current: Array
    stator_iron: Array
    rotor_iron: Array
    rotor_resistance: Array

    @property
    def cage_loss(self) -> Array:
        """Loss in bars and rings, three phases [W]."""
        return np.asarray(1.5 * self.rotor_resistance * self.rotor_current**2)


def slip_frequency(circuit: CageCircuit, rotor_flux: Array, rotor_current: Array) -> Array:
    """Return the angular slip frequency [rad/s] from 0 = R_r i_rq + w_s psi_rd.

    With skin effect R_r depends on w_s; three passes settle it, since R_r changes slowly.
    """
    ratio = np.abs(rotor_current) / np.maximum(np.abs(rotor_flux), 1e-9)
    w = circuit.cage_resistance(np.zeros_like(ratio)) * ratio
    for _ in range(3):
        w = circuit.cage_resistance(np.minimum(w, 1e5)) * ratio
    return np.asarray(np.minimum(w, 1e5))


def state_of_rotor(circuit: CageCircuit, rotor_flux: Array, rotor_current: Array) -> RotorFluxState:
    """Return the state at a rotor linkage and rotor current: explicit, from rotor to stator.

    Parameters
    ----------
    circuit : CageCircuit
    rotor_flux : ndarray, shape (n,)
        Referred linkage psi_rd [Wb].
    rotor_current : ndarray, shape (n,)
        Referred current i_rq [A].
    """
    w = slip_frequency(circuit, rotor_flux, rotor_current)
    resistance = circuit.cage_resistance(w)
    saturation = circuit.saturation_factor(np.abs(rotor_flux))
    # linkage through the rotor's iron: leakage round it does not pass
    outer = circuit.ring + circuit.rotor_harmonic / saturation
    through_d, through_q = rotor_flux, -outer * rotor_current
    rotor_iron = np.hypot(through_d, through_q)
    share = _share(circuit.rotor_iron_current(rotor_iron), rotor_iron)
    reduced_d, reduced_q = -share * through_d, rotor_current - share * through_q
    leakage = circuit.slot_leakage(np.hypot(reduced_d, reduced_q), w)
    gap_d, gap_q = through_d - leakage * reduced_d, through_q - leakage * reduced_q
    gap_factor = circuit.gap_factor(np.hypot(gap_d, gap_q), np.hypot(reduced_d, reduced_q))
    magnetising = circuit.magnetising_inductance / gap_factor
    stator_d, stator_q = gap_d / magnetising - reduced_d, gap_q / magnetising - reduced_q
    iron_d = gap_d + circuit.stator_slot * stator_d
    iron_q = gap_q + circuit.stator_slot * stator_q
    stator_iron = np.hypot(iron_d, iron_q)
    share = _share(circuit.stator_iron_current(stator_iron), stator_iron)
    i_d, i_q = stator_d + share * iron_d, stator_q + share * iron_q
    return RotorFluxState(
        i_d=i_d,
        i_q=i_q,
        psi_d=iron_d + circuit.stator_harmonic / saturation * i_d,
        psi_q=iron_q + circuit.stator_harmonic / saturation * i_q,
        rotor_flux=rotor_flux,
        rotor_current=rotor_current,
        stator_iron=stator_iron,
        rotor_iron=rotor_iron,
        rotor_resistance=resistance,
    )


def _share(current: Array, linkage: Array) -> Array:
    return np.divide(current, linkage, out=np.zeros_like(linkage), where=linkage > 1e-12)


def state_of_currents(circuit: CageCircuit, i_d: Array, i_q: Array) -> RotorFluxState:
    """Return the state at stator currents, by Newton's method on `state_of_rotor`.

    Parameters
    ----------
    circuit : CageCircuit
    i_d, i_q : ndarray, shape (n,)
        Stator currents [A], both >= 0.

    Returns
    -------
    RotorFluxState

    Raises
    ------
    SolverError
        The currents were not met.
    """
    scale = max(float(np.max(np.hypot(i_d, i_q))), 1e-9)
    flux_scale = circuit.magnetising_inductance * scale
    # Start from a saturated guess: linkage grows at most as fast as a 1.2 T gap field allows
    limit = 0.8 * circuit.flux_per_density
    flux = circuit.magnetising_inductance * i_d
    flux = flux / np.sqrt(1.0 + (flux / limit) ** 2)
    current = -0.95 * np.asarray(i_q, dtype=float)
    step_flux, step_current = DIFFERENCE * flux_scale, DIFFERENCE * scale

    def error(a: Array, b: Array) -> tuple[Array, Array, Array]:
        state = state_of_rotor(circuit, a, b)
        e_d, e_q = state.i_d - i_d, state.i_q - i_q
        return e_d, e_q, np.hypot(e_d, e_q)

    e_d, e_q, size = error(flux, current)
    for _ in range(STEPS):
        if float(size.max()) < TOLERANCE * scale:
            return state_of_rotor(circuit, flux, current)
        d1, q1, _ = error(flux + step_flux, current)
        d2, q2, _ = error(flux, current - step_current)
        j11, j21 = (d1 - e_d) / step_flux, (q1 - e_q) / step_flux
        j12, j22 = (e_d - d2) / step_current, (e_q - q2) / step_current
        det = j11 * j22 - j12 * j21
        move_flux = -(e_d * j22 - j12 * e_q) / det
        move_current = -(j11 * e_q - j21 * e_d) / det
        share = np.ones_like(flux)
        for _ in range(8):
            new_d, new_q, new_size = error(flux + share * move_flux, current + share * move_current)
            worse = new_size > size
            if not np.any(worse & (size > TOLERANCE * scale)):
                break
            share = np.where(worse, 0.5 * share, share)
        flux, current = flux + share * move_flux, current + share * move_current
        e_d, e_q, size = new_d, new_q, new_size
    if float(size.max()) < 1e-5 * scale:
        return state_of_rotor(circuit, flux, current)
    raise SolverError(
        f"cage machine: stator currents up to {scale:.0f} A were met only to "
        f"{float(size.max()):.3g} A; the magnetising curve is not plausible there"
    )
