"""The three-phase winding: factors, harmonics, and the `Winding` built from parameters."""

from collections.abc import Mapping
from math import pi

import numpy as np
from numpy.typing import NDArray

from models.errors import InfeasibleDesignError, InvalidInputError
from models.geometry.conductor_fit import fit_conductor
from models.geometry.end_turns import end_turn
from models.geometry.star_of_slots import (
    SlotPhases,
    full_pitch_span,
    layout,
    possible_parallel_paths,
    require_parallel_paths,
)
from models.machine import ParameterValue, Stator, Winding

__all__ = [
    "build_winding",
    "differential_leakage",
    "layout",
    "mmf_spectrum",
    "phase_axis",
    "possible_parallel_paths",
    "winding_factor",
]

LOWEST_SPAN_RATIO = 2.0 / 3.0
"""Shortest coil span of a distributed winding over its pole pitch: at 2/3 the third harmonic is
gone and anything shorter only loses fundamental (common practice, no source)."""

LOWEST_WINDING_FACTOR = 0.5
"""Below this a slot and pole combination is refused (common practice, no source)."""


def _phase_sum(shares: tuple[float, ...], spatial_order: float) -> complex:
    slots = len(shares)
    angle = spatial_order * 2.0 * pi / slots * np.arange(slots)
    return complex(np.sum(np.asarray(shares) * np.exp(1j * angle)))


def winding_factor(slot_phases: SlotPhases, pole_pairs: int, order: float = 1.0) -> float:
    """Return the magnitude of a winding factor, distribution and pitch together.

    Parameters
    ----------
    slot_phases : tuple of 3 tuples of float
        Layout, see `layout`.
    pole_pairs : int
        Pole pairs p.
    order : float
        Harmonic order nu relative to the p-pole-pair fundamental; nu p must be a whole number
        (fractional-slot windings have fields of order n/p).

    Returns
    -------
    float
        |sum_s share_s exp(j nu p theta_s)| / sum_s |share_s|, 0 to 1.

    Raises
    ------
    InvalidInputError
        If nu p is not a positive whole number.
    """
    spatial = order * pole_pairs
    if spatial < 0.5 or abs(spatial - round(spatial)) > 1e-6:
        raise InvalidInputError(
            f"harmonic order {order} with {pole_pairs} pole pairs: order times pole pairs must "
            f"be a positive whole number"
        )
    shares = slot_phases[0]
    return abs(_phase_sum(shares, round(spatial))) / sum(abs(x) for x in shares)


def phase_axis(slot_phases: SlotPhases, pole_pairs: int) -> float:
    """Return the electrical angle [rad] of the axis of phase 1, from the centre of slot 0.

    Along this axis the air-gap flux of positive phase-1 current points outwards (from rotor to
    stator). It lies 90 electrical degrees before (towards lower slot numbers) the centre of the
    positive conductors, by the right-hand rule with +z out of the section and slots numbered
    counter-clockwise. For an integral-slot winding of full pitch with q slots per pole and phase
    this is (q - 1) pi / (6 q) - pi / 2.
    """
    return float(np.angle(_phase_sum(slot_phases[0], pole_pairs))) - pi / 2.0


def _slot_phasors(slot_phases: SlotPhases) -> NDArray[np.complex128]:
    """Return each slot's current phasor for balanced unit phase currents."""
    turn = np.exp(-2j * pi / 3.0 * np.arange(3))
    return np.asarray(turn @ np.asarray(slot_phases), dtype=np.complex128)


def mmf_spectrum(
    slot_phases: SlotPhases, pole_pairs: int, highest: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the travelling waves of magnetomotive force under balanced phase currents.

    Parameters
    ----------
    slot_phases : tuple of 3 tuples of float
        Layout.
    pole_pairs : int
        Pole pairs p.
    highest : int
        Highest spatial order (periods per turn of the bore) to return, at least p.

    Returns
    -------
    orders : ndarray of int
        Spatial orders n; positive waves travel with the fundamental (n = p), negative against.
    amplitudes : ndarray
        Amplitude of each wave [A] for one conductor per slot with a current of 1 A amplitude:
        |sum_s S_s exp(j n theta_s)| / (2 pi |n|). Multiply by conductors per slot and the
        conductor current's amplitude. For n = p this is the textbook (3/2)(4/pi) N k_w / (2p) i.
    """
    if highest < pole_pairs:
        raise InvalidInputError(
            f"highest spatial order {highest}: must be at least {pole_pairs} (pole pairs)"
        )
    slots = len(slot_phases[0])
    phasors = _slot_phasors(slot_phases)
    orders = np.concatenate([np.arange(-highest, 0), np.arange(1, highest + 1)])
    theta = 2.0 * pi / slots * np.arange(slots)
    sums = np.exp(1j * np.outer(orders, theta)) @ phasors
    return orders, np.abs(sums) / (2.0 * pi * np.abs(orders))


def differential_leakage(slot_phases: SlotPhases, pole_pairs: int) -> float:
    """Return the harmonic (differential) leakage over the magnetising inductance.

    sigma = sum over nu != 1 of (k_w,nu / (nu k_w,1))^2, over every wave that balanced currents
    excite. The series is summed exactly: the mean square of the stepped magnetomotive force less
    its working wave, over its working wave (Goerges polygon; Pyrhonen, Jokinen, Hrabovcova,
    2nd ed., section 4.3, from memory). Smooth gap, infinitely permeable iron, narrow slots.
    """
    slots = len(slot_phases[0])
    phasors = _slot_phasors(slot_phases)
    steps = np.cumsum(phasors)
    steps -= steps.mean()
    total = float(np.mean(np.abs(steps) ** 2))
    theta = 2.0 * pi / slots * np.arange(slots)
    working = abs(np.sum(phasors * np.exp(1j * pole_pairs * theta))) / (2.0 * pi * pole_pairs)
    return total / float(working) ** 2 - 1.0


def build_winding(stator: Stator, parameters: Mapping[str, ParameterValue]) -> Winding:
    """Return the winding that a parameter table describes, fitted into the stator's slots.

    Parameters
    ----------
    stator : Stator
        Slots it goes into.
    parameters : mapping
        SI values of `poles`, `conductor`, `winding_layers`, `turns_per_coil`, `parallel_paths`,
        `pitch_shortening`, `copper_fill`, `strand_diameter`, `strand_arrangement`,
        `conductor_insulation` and `liner_thickness` (`models.nomenclature.PARAMETERS`); other
        keys are ignored.

    Returns
    -------
    Winding

    Raises
    ------
    InfeasibleDesignError
        `winding_unbalanced`, `single_layer_pitch`, `coil_sides_cancel`, `coil_span_too_short`,
        `winding_factor_low`, `parallel_paths_impossible`, `odd_bar_layers`, and those of
        `fit_conductor` and `end_turn`.
    """
    poles = int(parameters["poles"])
    layers = int(parameters["winding_layers"])
    turns = int(parameters["turns_per_coil"])
    paths = int(parameters["parallel_paths"])
    slots, pole_pairs = stator.slots, poles // 2
    span = full_pitch_span(slots, poles, int(parameters["pitch_shortening"]))
    if span > 1 and span < LOWEST_SPAN_RATIO * slots / poles - 1e-9:
        raise InfeasibleDesignError(
            "coil_span_too_short",
            f"coil span {span} slots of a pole pitch of {slots / poles:g}: at least 2/3 of the "
            f"pole pitch is allowed; lower pitch_shortening",
        )
    slot_phases = layout(slots, pole_pairs, layers, span)
    factor = winding_factor(slot_phases, pole_pairs)
    if factor < LOWEST_WINDING_FACTOR:
        raise InfeasibleDesignError(
            "winding_factor_low",
            f"{slots} slots, {poles} poles, coil span {span}: winding factor {factor:.3f} is "
            f"below {LOWEST_WINDING_FACTOR}; bring slots per pole nearer to the coil span",
        )
    require_parallel_paths(paths, slots, pole_pairs, layers, span)
    is_rectangular = parameters["conductor"] == "rectangular"
    if is_rectangular and span > 1 and layers * turns % 2:
        raise InfeasibleDesignError(
            "odd_bar_layers",
            f"{layers * turns} bars in a slot: a bent bar has one leg in an upper and one in a "
            f"lower layer, so an even number is needed; change turns_per_coil or winding_layers",
        )
    fit = fit_conductor(
        stator,
        layers * turns,
        is_rectangular=is_rectangular,
        copper_fill=float(parameters["copper_fill"]),
        strand_diameter=float(parameters["strand_diameter"]),
        insulation=float(parameters["conductor_insulation"]),
        liner=float(parameters["liner_thickness"]),
    )
    length, overhang = end_turn(stator, fit, layers=layers, coil_span=span)
    return Winding(
        slots=slots,
        pole_pairs=pole_pairs,
        layers=layers,
        coil_span=span,
        turns_per_coil=turns,
        parallel_paths=paths,
        slot_phases=slot_phases,
        winding_factor=factor,
        is_rectangular=fit.is_rectangular,
        conductor_width=fit.width,
        conductor_height=fit.height,
        conductor_area=fit.area,
        strands=fit.strands,
        end_turn_length=length,
        overhang=overhang,
        is_transposed=parameters["strand_arrangement"] == "twisted",
    )
