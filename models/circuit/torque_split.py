"""Torque against current angle, split into magnet and reluctance parts by frozen permeability."""

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np

from models.circuit.network import Array
from models.circuit.newton import frozen_response
from models.circuit.solution import Circuit, Solution, linkages, solve
from models.machine import Machine


@dataclass(frozen=True, eq=False)
class TorqueSplit:
    """Torque over current angle at one current amplitude.

    Attributes
    ----------
    angle : ndarray, shape (n,)
        Current angle from the q axis towards negative d [rad].
    total, magnet, reluctance : ndarray, shape (n,)
        Air-gap torque and its parts [N*m]; the parts sum to the total.
    """

    angle: Array
    total: Array
    magnet: Array
    reluctance: Array


def torque_split(
    circuit: Circuit, *, current_peak: float, magnet_temperature: float, points: int = 37
) -> TorqueSplit:
    """Return torque against current angle from 0 to 90 degrees.

    Parameters
    ----------
    circuit : Circuit
    current_peak : float
        Current amplitude [A].
    magnet_temperature : float
        [degC].
    points : int
        Number of angles.

    Notes
    -----
    At each point the reluctivity of every iron cell is frozen at its loaded value; the linear
    network is then solved with the magnets alone. Their linkages give the magnet torque
    1.5 p (psi_d i_q - psi_q i_d); the rest is reluctance torque. Taking psi_m i_q from the
    unloaded machine instead is wrong under saturation.
    """
    angle = np.linspace(0.0, 0.5 * pi, points)
    parts = np.array(
        [
            torque_parts(
                circuit,
                i_d=-current_peak * sin(gamma),
                i_q=current_peak * cos(gamma),
                magnet_temperature=magnet_temperature,
            )
            for gamma in angle
        ]
    )
    total, magnet = parts.T
    return TorqueSplit(angle=angle, total=total, magnet=magnet, reluctance=total - magnet)


def torque_parts(
    circuit: Circuit, *, i_d: float, i_q: float, magnet_temperature: float,
    solution: Solution | None = None,
) -> tuple[float, float]:  # fmt: skip
    """Return total and magnet torque [N*m] at one pair of dq currents [A], solved or not."""
    machine = circuit.machine
    d, q, zero = np.array([i_d]), np.array([i_q]), np.zeros(1)
    if solution is None:
        solution = solve(circuit, d, q, magnet_temperature=magnet_temperature)
    frozen = _magnets_alone(circuit, solution.potentials, solution.remanence)
    total = _torque(machine, *linkages(circuit, solution.potentials, d, q), d, q)
    magnet = _torque(machine, *linkages(circuit, frozen, zero, zero), d, q)
    return total, magnet


def _torque(machine: Machine, psi_d: Array, psi_q: Array, i_d: Array, i_q: Array) -> float:
    return float(1.5 * machine.pole_pairs * np.mean(psi_d * i_q - psi_q * i_d))


def _magnets_alone(circuit: Circuit, potentials: Array, remanence: float) -> Array:
    """Solve with frozen reluctivity and the magnets as the only source."""
    frozen = frozen_response(
        circuit.elimination,
        circuit.iron,
        potentials[:, 0],
        circuit.magnet_load() * remanence,
    )
    return np.asarray(frozen)[:, None]
