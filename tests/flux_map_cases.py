"""Flux maps with known formulas, for tests of control."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from models.control.linear import ConstantMachine
from models.flux_maps import FluxMaps

Array = NDArray[np.float64]
Linkage = Callable[[Array, Array], tuple[Array, Array]]


def flux_maps(
    linkage: Linkage, i_d: Array, i_q: Array, slope: float = 0.0, end_inductance: float = 0.0
) -> FluxMaps:
    d, q = np.meshgrid(i_d, i_q, indexing="ij")
    psi_d, psi_q = linkage(d, q)
    zero = np.zeros_like(d)
    return FluxMaps(
        i_d=i_d,
        i_q=i_q,
        psi_d=psi_d,
        psi_q=psi_q,
        psi_d_per_remanence=zero + slope,
        psi_q_per_remanence=zero,
        remanence=1.2,
        magnet_temperature=90.0,
        end_inductance=end_inductance,
        iron_hysteresis=zero,
        iron_classical=zero,
        iron_excess=zero,
        rotor_hysteresis=zero,
        rotor_classical=zero,
        rotor_excess=zero,
        magnet_ripple=zero,
        magnet_slot_ripple=zero,
        tooth_peak=zero,
        yoke_peak=zero,
    )


def constant_maps(
    machine: ConstantMachine, reach: float, nodes: int = 7, end_inductance: float = 0.0
) -> FluxMaps:
    """Maps of a constant machine; the end inductance is part of its L_d and L_q."""
    l_d, l_q = machine.l_d - end_inductance, machine.l_q - end_inductance
    i_d = np.linspace(-reach, 0.0, nodes)
    if machine.psi == 0.0 and l_d > l_q:
        i_d = i_d + reach
    return flux_maps(
        lambda d, q: (machine.psi + l_d * d, l_q * q),
        i_d,
        np.linspace(0.0, reach, nodes),
        slope=machine.psi / 1.2,
        end_inductance=end_inductance,
    )


def saturating(d: Array, q: Array) -> tuple[Array, Array]:
    """An invented interior machine with saturation of q and cross-coupling, for 300 A.

    d psi_d / d i_q = d psi_q / d i_d holds, as it must without loss.
    """
    cross = 1.5e-7
    psi_d = 0.1 + 0.3e-3 * d - cross * q**2
    psi_q = 0.6e-3 * 120.0 * np.tanh(q / 120.0) + 0.15e-3 * q - 2.0 * cross * d * q
    return psi_d, psi_q
