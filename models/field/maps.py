"""Flux maps of a machine by the field model."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError
from models.field.belt_symmetry import half_way
from models.field.factor import Factor
from models.field.fine_positions import CurrentSubset, current_subset, refined, ripples
from models.field.machine_field import FieldModel
from models.field.march import (
    averaging_positions,
    solve_currents,
    solve_grid,
    solve_positions,
)
from models.field.post import (
    StatorWaveforms,
    area_percentile,
    elements_of,
    magnet_field,
    magnet_poles,
    magnetisation_at,
    mean_flux_density,
    stator_waveforms,
)
from models.flux_maps import FluxMaps, map_axes
from models.geometry.slot_leakage import end_inductance
from models.losses.belt_waves import ripples_over_poles
from models.losses.families import SLOTTING_APART
from models.losses.iron import loss_coefficients_of_components
from models.machine import Machine

Array = NDArray[np.float64]

D_POINTS = 6
Q_POINTS = 7
PEAK_SHARE = 0.98
"""Area percentile of the tooth and yoke peaks: the very largest value sits at a corner."""
SUBSET = (3, 4)
"""Currents i_d and i_q at which twice the rotor positions are solved, for losses."""
LOW_SHARE = 0.02
"""Area percentile of the lowest magnet field."""


def flux_maps(
    machine: Machine,
    model: FieldModel,
    *,
    current_peak: float,
    magnet_temperature: float,
    factor: Factor | None = None,
) -> FluxMaps:
    """Return flux maps up to a current amplitude.

    Parameters
    ----------
    machine : Machine
        The machine `model` was built from.
    model : FieldModel
        Its equations.
    current_peak : float
        Largest current amplitude [A]; the map covers the square around it.
    magnet_temperature : float
        [degC].
    factor : Factor, optional
        Kept between calls.

    Returns
    -------
    FluxMaps

    Raises
    ------
    SolverError
        No convergence.

    Notes
    -----
    Mean over rotor positions that divide one phase belt and see the slots evenly. The derivative
    by remanence is taken at the first position. Losses have twice the positions at a subset of
    the currents, see `models.field.fine_positions`.
    """
    if not 0.0 < current_peak < np.inf:
        raise InvalidInputError(
            f"flux maps need a finite current above zero, not {current_peak!r} A"
        )
    system = model.system
    i_d, i_q = map_axes(current_peak, d_points=D_POINTS, q_points=Q_POINTS)
    remanence = machine.magnet.remanence(magnet_temperature)
    positions = averaging_positions(model.sector.passings)
    factor = factor or Factor(system.columns, system.rows, system.plan)
    potential, derivative = solve_grid(
        model, i_d, i_q, rotor_angles=positions, remanence=remanence, factor=factor
    )
    subset = current_subset(i_d, i_q, SUBSET)
    fine = _fine_potential(
        model, i_d, i_q, potential, subset=subset, positions=positions, remanence=remanence,
        factor=factor,
    )  # fmt: skip
    psi = np.mean(
        [linkage_grid(model, a, t) for a, t in zip(potential, positions.tolist())], axis=0
    )
    slope = linkage_grid(model, derivative, float(positions[0]))
    psi[1, :, 0] = 0.0  # by symmetry: q flux without q current is rounding and mesh only
    waves = _refined_waveforms(model, potential, fine, subset)
    rotor = [np.maximum(subset.carry(values), 0.0) for values in rotor_loss(machine, model, fine)]
    belt_ripple, slot_ripple = magnet_ripples(machine, model, potential, fine, subset)
    hysteresis, classical, excess = stator_loss(machine, model, waves)
    tooth, yoke = stator_peaks(machine, waves)
    return FluxMaps(
        i_d=i_d,
        i_q=i_q,
        psi_d=psi[0],
        psi_q=psi[1],
        psi_d_per_remanence=slope[0],
        psi_q_per_remanence=slope[1],
        remanence=remanence,
        magnet_temperature=magnet_temperature,
        end_inductance=end_inductance(machine.stator, machine.winding),
        iron_hysteresis=hysteresis,
        iron_classical=classical,
        iron_excess=excess,
        rotor_hysteresis=rotor[0],
        rotor_classical=rotor[1],
        rotor_excess=rotor[2],
        magnet_ripple=belt_ripple,
        magnet_slot_ripple=slot_ripple,
        tooth_peak=tooth,
        yoke_peak=yoke,
    )


def linkage_grid(model: FieldModel, potential: Array, rotor_angle: float) -> Array:
    """Return psi_d and psi_q [Wb] of potentials of shape (..., size + 1), stacked first."""
    phases = (
        model.sector.repeats * model.stack_length * np.moveaxis(
            potential @ model.phase_source.T, -1, 0
        )
    )  # fmt: skip
    place = rotor_angle - 2.0 * np.pi / 3.0 * np.arange(3)
    out: Array = np.stack(
        (
            2.0 / 3.0 * np.tensordot(np.cos(place), phases, axes=1),
            -2.0 / 3.0 * np.tensordot(np.sin(place), phases, axes=1),
        )
    )
    return out


def stator_loss(
    machine: Machine, model: FieldModel, waves: StatorWaveforms
) -> tuple[Array, Array, Array]:
    """Return the three stator iron-loss coefficients of waveforms, whole machine."""
    stacking = machine.stacking_factor
    masses = (
        waves.area * stacking * machine.stack_length * machine.lamination.density
        * (model.sector.all_slots // len(model.sector.unlike_slots))
    )  # fmt: skip
    # the sheets carry the flux of the whole stack
    return loss_coefficients_of_components(
        waves.radial / stacking, waves.tangential / stacking, masses, machine.lamination
    )


def stator_peaks(machine: Machine, waves: StatorWaveforms) -> tuple[Array, Array]:
    """Return the largest sheet flux density over position in teeth and in the yoke [T]."""
    size = np.hypot(waves.radial, waves.tangential).max(axis=-1) / machine.stacking_factor
    stator = machine.stator
    is_yoke = waves.radius > stator.slot_bottom_radius
    is_tooth = (waves.radius > stator.body_inner_radius) & ~is_yoke
    return (
        area_percentile(size[..., is_tooth], waves.area[is_tooth], PEAK_SHARE),
        area_percentile(size[..., is_yoke], waves.area[is_yoke], PEAK_SHARE),
    )


def _fine_potential(
    model: FieldModel, i_d: Array, i_q: Array, potential: Array, *, subset: CurrentSubset,
    positions: Array, remanence: float, factor: Factor,
) -> Array:  # fmt: skip
    """Solve the positions half way between those given at a subset of the currents.

    Returns the potentials at all positions in order, shape (2 n, rows, columns, size + 1).
    """
    between = positions + 0.5 * (positions[1] - positions[0])
    own = subset.pick(potential, axis=1)
    found = solve_currents(
        model, i_d[list(subset.rows)], i_q[list(subset.columns)], rotor_angles=between,
        remanence=remanence, guess=half_way(model, own) if model.sector.poles == 1 else None,
        factor=factor,
    )  # fmt: skip
    out: Array = np.stack((own, found), axis=1).reshape(-1, *own.shape[1:])
    return out


def _refined_waveforms(
    model: FieldModel, potential: Array, fine: Array, subset: CurrentSubset
) -> StatorWaveforms:
    few, many = stator_waveforms(model, potential), stator_waveforms(model, fine)
    return replace(
        few,
        radial=refined(subset, few.radial, many.radial),
        tangential=refined(subset, few.tangential, many.tangential),
    )


def rotor_loss(machine: Machine, model: FieldModel, potential: Array) -> tuple[Array, Array, Array]:
    """Return the three coefficients of the loss in the rotor's sheets, whole machine.

    Parameters
    ----------
    machine : Machine
    model : FieldModel
        Its equations.
    potential : ndarray, shape (n, ..., size + 1)
        At n positions that divide one phase belt evenly.

    Notes
    -----
    From the flux density of every element of one rotor pole in rotor axes. Over one pole its
    period is one belt, a sixth of the electrical one, over several as many belts
    (`Sector.pole_sequence`). Six positions see two harmonics of a belt; higher ones fold onto them,
    which takes them for slower: against 24 positions on a mesh of four times the unknowns the loss
    of eight machines came out 25 to 40 % low, more than half of it by the positions. Skin effect in
    the sheets is left out.
    """
    system, sector, stacking = model.system, model.sector, machine.stacking_factor
    elements = elements_of(system, "rotor_core")
    one = elements[: len(elements) // sector.poles]
    waves = over_poles(model, mean_flux_density(system, potential, elements) / stacking)
    masses = (
        system.elements.area[one] * stacking * machine.stack_length
        * machine.lamination.density * 2 * machine.pole_pairs
    )  # fmt: skip
    a, c, e = loss_coefficients_of_components(
        np.ascontiguousarray(waves[..., 0, :]), np.ascontiguousarray(waves[..., 1, :]),
        masses, machine.lamination,
    )  # fmt: skip
    order = sector.rotor_order
    return order * a, order**2 * c, order**1.5 * e


def over_poles(model: FieldModel, b: Array) -> Array:
    """Return what one rotor pole sees over its period, in its own axes.

    Parameters
    ----------
    model : FieldModel
        Equations.
    b : ndarray, shape (n, ..., elements of all poles, 2)
        Flux density at n positions that divide one phase belt evenly, in rotor axes [T].

    Returns
    -------
    ndarray, shape (..., elements of a pole, 2, poles * n)
        Turned to the axes of the first pole, south poles with the sign of north poles.
    """
    sector, count = model.sector, b.shape[-2] // model.sector.poles
    if sector.poles == 1:
        return np.moveaxis(b, 0, -1)
    pitch = np.pi / sector.pole_pairs
    parts = []
    for pole in sector.pole_sequence.tolist():
        own = b[..., pole * count : (pole + 1) * count, :]
        c, s = np.cos(pole * pitch), np.sin(pole * pitch)
        sign = -1.0 if pole % 2 else 1.0
        x, y = own[..., 0], own[..., 1]
        parts.append(sign * np.stack((c * x + s * y, c * y - s * x), axis=-1))
    return np.moveaxis(np.concatenate(parts), 0, -1)


def magnet_ripples(
    machine: Machine, model: FieldModel, potential: Array, fine: Array, subset: CurrentSubset
) -> tuple[Array, Array]:
    """Return the amplitude of the magnets' ripple at 6 f and at the slots' frequency [T].

    Root mean square over the magnet area; zero where there are no magnets. Over several poles see
    `models.losses.belt_waves.ripples_over_poles`.

    Parameters
    ----------
    machine : Machine
    model : FieldModel
        Its equations.
    potential : ndarray, shape (n, n_d, n_q, size + 1)
        At n positions that divide one phase belt evenly.
    fine : ndarray, shape (2 n, rows, columns, size + 1)
        At twice the positions for a subset of the currents.
    subset : CurrentSubset
    """
    system, sector = model.system, model.sector
    elements = elements_of(system, "magnet")
    if not len(elements):
        none = np.zeros(potential.shape[1:3])
        return none, none
    one = elements[: len(elements) // sector.poles]
    weights = system.elements.area[one]
    centre = system.elements.place[one].mean(axis=1, keepdims=True)
    direction = magnetisation_at(system, one, centre)[:, 0]
    along, fine_along = (
        np.moveaxis(
            np.einsum(
                "...mcs,mc->...ms",
                over_poles(model, mean_flux_density(system, a, elements)),
                direction,
            ),
            -1,
            0,
        )
        for a in (potential, fine)
    )
    if sector.poles == 1:
        return ripples(subset, along, fine_along, per_belt=sector.passings, weights=weights)
    few, many = (
        ripples_over_poles(
            machine, values, weights, is_slotting_apart=machine.family in SLOTTING_APART
        )[0]
        for values in (along, fine_along)
    )
    found = np.maximum(few + subset.carry(many - subset.pick(few)), 0.0)
    return found, np.zeros_like(found)


def lowest_magnet_field(
    machine: Machine,
    model: FieldModel,
    *,
    i_d: float,
    magnet_temperature: float,
    i_q: float = 0.0,
    factor: Factor | None = None,
) -> float:
    """Return the 2 % area percentile of the field along the magnetisation of a pole's magnets [T].

    The lowest over rotor positions that see the slots evenly, and over the poles of the sector:
    sooner or later each of them stands where the worst one does.
    """
    if elements_of(model.system, "magnet").size == 0:
        return machine.magnet.remanence(magnet_temperature)  # nothing opposes what is not there
    positions = averaging_positions(model.sector.passings)
    factor = factor or Factor(model.system.columns, model.system.rows, model.system.plan)
    solutions = solve_positions(
        model, i_d=i_d, i_q=i_q, rotor_angles=positions, factor=factor,
        remanence=machine.magnet.remanence(magnet_temperature),
    )  # fmt: skip
    field, area = magnet_field(model.system, np.array([s.potential for s in solutions]))
    pole = magnet_poles(
        model.system, poles=model.sector.poles, pole_pitch=np.pi / model.sector.pole_pairs
    )
    own = [pole == k for k in range(model.sector.poles)]
    return min(float(area_percentile(field[:, k], area[k], LOW_SHARE).min()) for k in own)
