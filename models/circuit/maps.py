"""Flux maps, iron-loss coefficients and magnet fields of a machine by its magnetic network."""

from math import pi

import numpy as np

from models.circuit.families import NETWORKS
from models.circuit.network import Array
from models.circuit.solution import Circuit, Solution, linkages, solve
from models.circuit.waveforms import channel_waveforms, stator_waveforms
from models.flux_maps import FluxMaps, map_axes
from models.geometry.slot_leakage import end_inductance
from models.losses.belt_waves import ripples_over_poles
from models.losses.families import ROTOR_IRON, SLOTTING_APART
from models.losses.iron import loss_coefficients_of_components

D_POINTS = 7
Q_POINTS = 7


def flux_maps(circuit: Circuit, *, current_peak: float, magnet_temperature: float) -> FluxMaps:
    """Return the flux maps of a machine.

    Parameters
    ----------
    circuit : Circuit
        Of `assemble(machine)`.
    current_peak : float
        Largest current amplitude [A]; the map covers the square around it.
    magnet_temperature : float
        [degC].

    Returns
    -------
    FluxMaps

    Raises
    ------
    SolverError
        The network did not converge.

    Notes
    -----
    Mean values over one phase belt of rotor positions. Five positions give 30 samples of a
    period: iron loss with its harmonics to the 14th, which holds the slot harmonics of two slots
    per belt (three positions lose 11 to 14 % of it deep in field weakening).
    The rotor's iron loss at its surface is a closed form, see `models.losses.families`; to it comes
    that of the flux that slots drive through the iron between barriers, see `channel_loss`. Not
    usable from this model: torque ripple and local flux density in bridges.
    """
    machine = circuit.machine
    i_d, i_q = map_axes(current_peak, d_points=D_POINTS, q_points=Q_POINTS)
    solution = solve(circuit, i_d, i_q, magnet_temperature=magnet_temperature)
    psi_d, psi_q = linkages(circuit, solution.potentials, i_d, i_q)
    zero_d, zero_q = np.zeros_like(i_d), np.zeros_like(i_q)
    slope_d, slope_q = linkages(circuit, solution.per_remanence, zero_d, zero_q)
    waves = stator_waveforms(circuit, solution)
    hysteresis, classical, excess = loss_coefficients_of_components(
        waves.first, waves.second, waves.masses, machine.lamination, is_half=True
    )
    psi_q_mean = psi_q.mean(axis=0)
    psi_q_mean[:, 0] = 0.0  # by symmetry; the mean over positions leaves rounding only
    psi_d_mean = psi_d.mean(axis=0)
    largest = waves.largest
    tooth_peak = largest[..., waves.is_tooth].max(axis=-1)
    surface = ROTOR_IRON[machine.family](
        machine, np.hypot(i_d[:, None], i_q), np.hypot(psi_d_mean, psi_q_mean), tooth_peak
    )
    rotor_hysteresis, rotor_classical, rotor_excess = (
        a + b for a, b in zip(surface, channel_loss(circuit, solution))
    )
    belt_ripple, slot_ripple = magnet_ripples(circuit, solution)
    return FluxMaps(
        i_d=i_d,
        i_q=i_q,
        psi_d=psi_d_mean,
        psi_q=psi_q_mean,
        psi_d_per_remanence=slope_d.mean(axis=0),
        psi_q_per_remanence=slope_q.mean(axis=0),
        remanence=solution.remanence,
        magnet_temperature=magnet_temperature,
        end_inductance=end_inductance(machine.stator, machine.winding),
        iron_hysteresis=hysteresis,
        iron_classical=classical,
        iron_excess=excess,
        rotor_hysteresis=rotor_hysteresis,
        rotor_classical=rotor_classical,
        rotor_excess=rotor_excess,
        magnet_ripple=belt_ripple,
        magnet_slot_ripple=slot_ripple,
        tooth_peak=tooth_peak,
        yoke_peak=largest[..., waves.is_yoke].max(axis=-1),
    )


def channel_loss(circuit: Circuit, solution: Solution) -> tuple[Array, Array, Array]:
    """Return the three coefficients of the loss in the iron between barriers, whole machine.

    Shape (n_d, n_q) each [W/Hz, W/Hz^2, W/Hz^1.5].

    Notes
    -----
    Barriers hold the flux between them together: what a passing tooth puts into the mouth of a
    channel runs through all of it, however short the wave. Elsewhere waves as short as a slot pitch
    die out within some millimetres of the surface, which the closed form counts.
    """
    order = circuit.sector.rotor_order
    a, b, c = loss_coefficients_of_components(
        *channel_waveforms(circuit, solution), circuit.machine.lamination
    )
    return order * a, order**2 * b, order**1.5 * c


def magnet_flux_density(circuit: Circuit, solution: Solution) -> Array:
    """Return flux density along the magnetisation of every pole's magnets.

    Shape (n_positions, n_d, n_q, poles of the sector, segments of a pole) [T].
    """
    network, coupling = circuit.network, circuit.coupling
    shape = (*solution.potentials.shape[:3], circuit.sector.poles, -1)
    field = (
        solution.potentials @ network.magnet_segments.T
        + network.magnet_offsets * solution.remanence
    )
    if not field.shape[-1] + len(coupling.magnet_offsets):
        return np.zeros((*shape[:-1], 0))
    if not len(coupling.magnet_offsets):
        return np.asarray(field.reshape(shape))
    inside = np.einsum("pabn,psn->pabs", solution.potentials, coupling.magnet_rows)
    inside += coupling.magnet_offsets * solution.remanence
    if not field.shape[-1]:
        return np.asarray(inside.reshape(shape))
    return np.concatenate([field.reshape(shape), inside.reshape(shape)], axis=-1)


def magnet_ripples(circuit: Circuit, solution: Solution) -> tuple[Array, Array]:
    """Return the amplitude [T] of the magnets' ripple at 6 f and at the slots' frequency.

    Root mean square over the magnet segments. Over one pole: the first harmonic over one phase
    belt, and that of the slots; n positions tell harmonics up to n / 2 apart, and the slots'
    harmonic of more slots per belt is read where it folds to; where that is the first, all counts
    at 6 f. Over several poles: see `models.losses.belt_waves.ripples_over_poles`.
    """
    field, sector = magnet_flux_density(circuit, solution), circuit.sector
    if field.shape[-1] == 0:
        none = np.zeros(field.shape[1:3])
        return none, none
    if sector.poles > 1:
        # pole 0 sees, one belt later, what the next pole of the sequence sees now
        seen = field[:, :, :, sector.pole_sequence].transpose(3, 0, 1, 2, 4)
        return ripples_over_poles(
            circuit.machine, seen.reshape(-1, *seen.shape[2:]), np.ones(field.shape[-1]),
            is_slotting_apart=circuit.machine.family in SLOTTING_APART,
        )  # fmt: skip
    field = field[:, :, :, 0]
    n = field.shape[0]
    folded = min(sector.passings % n, -sector.passings % n)
    belt = _ripple(field, 1)
    return belt, _ripple(field, folded) if folded > 1 else np.zeros_like(belt)


def _ripple(field: Array, order: int) -> Array:
    n = field.shape[0]
    turn = np.exp(-2j * pi * order * np.arange(n) / n)
    amplitude = 2.0 / n * np.abs(np.tensordot(turn, field, axes=(0, 0)))
    return np.asarray(np.sqrt((amplitude**2).mean(axis=-1)))


def lowest_magnet_field(circuit: Circuit, solution: Solution) -> float:
    """Return the flux density along the magnetisation that 2 % of the magnets lie below [T].

    Parameters
    ----------
    circuit : Circuit
    solution : Solution
        Of one operating point, usually the largest current against the magnets.

    Notes
    -----
    From the field at the network's magnet segments by the family's own rule, see
    `models.circuit.families`.
    """
    rule = NETWORKS[circuit.machine.family].lowest_field
    field = magnet_flux_density(circuit, solution)
    return float(rule(circuit.machine, field, solution.remanence))
