"""Eddy-current loss in surface magnets and in a conducting sleeve, by travelling waves."""

from math import cosh, pi, sin, sinh, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.geometry.air_gap import carter_factor
from models.geometry.sector import sector_of
from models.losses.belt_waves import belt_order, wave_shares
from models.losses.magnet import (
    block_reduction,
    magnet_skin_depth,
    torsion_constant,
)
from models.machine import Machine, rotor_as
from models.materials.sleeve import sleeve
from models.surface_rotor import SurfaceRotor

Array = NDArray[np.float64]


def wave_reduction(number: float, width: float) -> float:
    """Return the loss of a strip under a travelling wave over that in an even alternating field.

    Parameters
    ----------
    number : float
        Wave number k = order / radius [1/m].
    width : float
        Of the strip along the wave [m].

    Returns
    -------
    float
        3 (1 - sinc(x)^2) / x^2, x = k w / 2, in (0, 1].

    Notes
    -----
    The wave induces E = (omega B / k) cos(k x - omega t); insulated strips carry no net current,
    so the mean over the strip is taken off: mean of J^2 is (omega B / k rho)^2 / 2 (1 - sinc^2).
    Narrow strips see an even field, wide ones the loss of the plain wave.
    """
    x = 0.5 * number * width
    if x < 1e-2:
        return 1.0 - 2.0 / 15.0 * x**2
    return 3.0 * (1.0 - (sin(x) / x) ** 2) / x**2


def slot_ripple(machine: Machine) -> float:
    """Return the ripple of the open-circuit field on the rotor iron by slotting [T], peak.

    Notes
    -----
    First slot harmonic of the gap's permeance behind an effective gap
    d = g' + h_m / mu_r: beta (4/pi) [1/2 + s^2 / (0.78125 - 2 s^2)] sin(1.6 pi s) with
    s = b_o / tau_s and beta = (1 - 1 / sqrt(1 + (b_o / 2d)^2)) / 2, times the mean field over a
    magnet at 20 degC. s is held at 0.5.

    References
    ----------
    B. Heller and V. Hamata, *Harmonic Field Effects in Induction Machines*, 1977 (from memory).
    """
    r, stator = rotor_as(machine, SurfaceRotor), machine.stator
    recoil = machine.magnet.recoil_permeability
    gap = stator.bore_radius - r.magnet_radius + r.magnet_thickness / recoil
    pitch = stator.bore_radius * stator.slot_pitch
    s = min(stator.slot_opening / pitch, 0.5)
    beta = 0.5 * (1.0 - 1.0 / sqrt(1.0 + (0.5 * stator.slot_opening / gap) ** 2))
    wave = beta * 4.0 / pi * (0.5 + s**2 / (0.78125 - 2.0 * s**2)) * sin(1.6 * pi * s)
    carter = carter_factor(stator.slot_opening, gap, pitch)
    mean = machine.magnet.remanence_20 * r.magnet_thickness / recoil / (carter * gap)
    return wave * mean


def surface_magnet_loss(machine: Machine, ripple: ArrayLike, frequency: ArrayLike) -> Array:
    """Return the eddy-current loss of all magnets [W].

    Parameters
    ----------
    machine : Machine
        A machine with a surface rotor; pieces along the stack and around the arc count.
    ripple : array_like
        Peak flux-density ripple at `belt_order` times electrical frequency, root mean square over
        the magnets' volume [T].
    frequency : array_like
        Electrical frequency [Hz], broadcast with `ripple`.

    Notes
    -----
    Phase-belt ripple as a wave of 6 p periods around the rotor (it is the mean of orders 5 p and
    7 p); where slots per pole and phase are not whole it is shared out among the winding's own
    waves, each with its wavelength and frequency (`models.losses.belt_waves`). Slot ripple
    (`slot_ripple`) of as many periods as slots, stronger towards the bore as cosh(k y) above the
    rotor iron. Each piece is a strip under the wave (`wave_reduction`), with the end effect of a
    block (torsion analogy) and skin effect of loops that are no wider than half a wave. Converter
    harmonics are not in it. No outside check is known for the sum; its parts are closed forms, and
    narrow pieces give `models.losses.magnet.block_loss` exactly.
    """
    r, magnet = rotor_as(machine, SurfaceRotor), machine.magnet
    width = r.arc_length / r.magnet_width_segments
    length = machine.stack_length / r.magnet_axial_segments
    pieces = 2 * machine.pole_pairs * r.magnet_width_segments * r.magnet_axial_segments
    f = np.asarray(frequency, dtype=float)
    unique, where = np.unique(f, return_inverse=True)
    height = r.magnet_thickness
    total = np.zeros(np.broadcast_shapes(np.shape(ripple), f.shape))
    for order, periods, amplitude in (*_belt_waves(machine, ripple), _slot_wave(machine)):
        number = periods / r.magnet_radius
        loop = min(width, pi / number)  # an eddy loop is no wider than half a wave
        rate = 2.0 * pi * order * f * amplitude
        strip = rate**2 / (2.0 * magnet.resistivity) * width**3 * length * height / 12.0
        ends = float(torsion_constant(loop, length)) / (loop**3 * length / 3.0)
        # speeds repeat in every map: the skin effect is found once for each
        depth = magnet_skin_depth(machine, np.maximum(order * unique, 1e-3))
        skin = block_reduction((loop, length), depth)[where].reshape(f.shape)
        total = total + pieces * strip * wave_reduction(number, width) * ends * skin
    return np.asarray(total)


Wave = tuple[float, float, Array]
"""Order over electrical frequency, periods round the rotor, root mean square over height [T]."""


def _belt_waves(machine: Machine, ripple: ArrayLike) -> list[Wave]:
    """Return the winding's waves in the magnets that make up a ripple."""
    r, total = rotor_as(machine, SurfaceRotor), np.asarray(ripple, dtype=float)
    stated = belt_order(machine)
    if sector_of(machine).poles == 1:
        return [(stated, stated * machine.pole_pairs, total)]
    radius = r.magnet_radius - r.magnet_thickness
    waves = wave_shares(machine, iron_radius=radius, height=r.magnet_thickness)
    return [
        (order, number * radius, stated * share * total)
        for order, number, share in zip(
            waves.order.tolist(), waves.wave_number.tolist(), waves.per_current.tolist()
        )
    ]


def _slot_wave(machine: Machine) -> Wave:
    """Return the wave of the slots in the magnets' own field."""
    r = rotor_as(machine, SurfaceRotor)
    slots = machine.stator.slots
    x = 2.0 * slots / r.magnet_radius * r.magnet_thickness
    mean_square = 0.5 * (1.0 + sinh(x) / x) if x < 500.0 else 0.0
    size = np.asarray(slot_ripple(machine) * sqrt(mean_square))
    return slots / machine.pole_pairs, float(slots), size


def sleeve_loss(machine: Machine, ripple: ArrayLike, frequency: ArrayLike) -> Array:
    """Return the eddy-current loss of a conducting sleeve [W].

    Parameters
    ----------
    machine, ripple, frequency
        As for `surface_magnet_loss`.

    Notes
    -----
    Thin sheet under travelling waves: E = omega B / k, loss E^2 / (2 rho) per volume, times
    1 - tanh(k L / 2) / (k L / 2) for the currents' way back at the ends; the same two waves as in
    the magnets, at the sleeve. Resistance-limited: sheet thinner than the skin depth, and its own
    field small; so it errs on the safe side at high frequency.

    References
    ----------
    R. L. Russell and K. H. Norsworthy, Proc. IEE 105 A, 77, 1958 (end factor; from memory).
    """
    r = rotor_as(machine, SurfaceRotor)
    f = np.asarray(frequency, dtype=float)
    belt = np.asarray(ripple, dtype=float)
    out = np.zeros(np.broadcast_shapes(belt.shape, f.shape))
    if r.sleeve_thickness <= 0.0:
        return out
    grade = sleeve(r.sleeve_material)
    radius = r.magnet_radius + 0.5 * r.sleeve_thickness
    volume = 2.0 * pi * radius * r.sleeve_thickness * machine.stack_length
    share = 2.0 * machine.pole_pairs * r.arc_half_angle / pi
    slots = machine.stator.slots
    height = r.magnet_thickness + 0.5 * r.sleeve_thickness
    idle = slot_ripple(machine) * cosh(slots / radius * height)
    waves = [
        (order, periods, size * _face_over_mean(machine, periods), 1.0)
        for order, periods, size in _belt_waves(machine, belt)
    ]
    for order, periods, amplitude, covered in (
        *waves,
        (slots / machine.pole_pairs, float(slots), np.asarray(idle), share),
    ):
        number = periods / radius
        field = 2.0 * pi * order * f * amplitude / number
        half = 0.5 * number * machine.stack_length
        ends = 1.0 - np.tanh(half) / half
        out = out + covered * volume * ends * field**2 / (2.0 * grade.resistivity)
    return np.asarray(out)


def _face_over_mean(machine: Machine, periods: float) -> float:
    """Return a wave's size at the magnets' face over its root mean square in them."""
    r = rotor_as(machine, SurfaceRotor)
    x = 2.0 * periods / r.magnet_radius * r.magnet_thickness
    return sqrt(2.0 * cosh(0.5 * x) ** 2 / (1.0 + sinh(x) / x)) if x < 500.0 else sqrt(x)
