"""Ring of magnets and air gap of a surface-magnet rotor, solved exactly by harmonics.

Between the core's surface and the bore nothing is iron, so the field there follows from the
potentials on both circles and from the magnets. Each circle's potential is piecewise linear between
its nodes; its harmonics, the ring's stiffness for each of them and the magnets' source make one
linear block that couples all nodes of rotor and stator, at any rotor angle
(`models.circuit.ring_coupling`).
"""

from dataclasses import dataclass
from math import log, pi

import numpy as np

from models.circuit.network import Array
from models.geometry.sector import Sector
from models.machine import Machine, rotor_as
from models.surface_rotor import SurfaceRotor

HARMONICS = 40
"""Odd multiples of the pole pairs that are counted; over several poles, all up to the last."""


@dataclass(frozen=True, eq=False)
class RingSolution:
    """The ring's answer to one ampere-free unit of each harmonic, arrays over harmonics.

    Attributes
    ----------
    order : ndarray
        n, those of the sector: odd multiples of p over one pole.
    inner, outer, mutual : ndarray
        mu0 r H_theta on the circles per unit of potential: A-inner on inner, outer on outer,
        and the mutual part.
    inner_source, outer_source : ndarray
        The same from magnets of 1 T, sine terms.
    face_inner, face_outer, face_source : ndarray
        Potential on the magnets' face per unit of inner and outer potential and per T.
    load : ndarray
        Source of the ring's equation per T, see `particular`; zero but at odd multiples of p.
    mean : float
        mu0 r H_theta per unit of difference of the mean potentials on both circles.
    """

    order: Array
    inner: Array
    outer: Array
    mutual: Array
    inner_source: Array
    outer_source: Array
    face_inner: Array
    face_outer: Array
    face_source: Array
    load: Array
    mean: float


def magnet_harmonics(rotor: SurfaceRotor, pole_pairs: int, order: Array) -> tuple[Array, Array]:
    """Return radial cosine and tangential sine amplitudes of a magnetisation of 1 T.

    Parameters
    ----------
    rotor : SurfaceRotor
    pole_pairs : int
    order : ndarray, shape (n,)
        Periods round the rotor.

    Notes
    -----
    Over the arc -a..a, with alternating poles: radial 4p/(pi n) sin(n a); parallel, whose
    components are cos(theta) and -sin(theta), by products of sines. Both are zero at orders other
    than odd multiples of the pole pairs.

    References
    ----------
    Z. Q. Zhu, D. Howe, E. Bolte, B. Ackermann, IEEE Trans. Magn. 29(1) 124, 1993,
    doi:10.1109/20.195557.
    """
    a = rotor.arc_half_angle
    p = np.where(order % (2 * pole_pairs) == pole_pairs, pole_pairs, 0)
    if rotor.is_radial:
        return 4.0 * p / (pi * order) * np.sin(order * a), np.zeros_like(order)
    plus = np.sin((order + 1.0) * a) / (order + 1.0)
    minus = a * np.sinc((order - 1.0) * a / pi)  # a at order 1
    return 2.0 * p / pi * (plus + minus), 2.0 * p / pi * (plus - minus)


def particular(order: Array, radius: float, load: Array) -> tuple[Array, Array]:
    """Return a solution of the ring's equation at a radius and its slope times radius.

    a'' + a'/r - n^2 a / r^2 = -load / r with load = T_n + n R_n: load r / (n^2 - 1), and
    -load r ln(r) / 2 at order 1.
    """
    one = order == 1.0
    value = load * radius / np.where(one, 1.0, order**2 - 1.0)
    log = -0.5 * load * radius * np.log(radius)
    return (
        np.where(one, log, value),
        np.where(one, log - 0.5 * load * radius, value),
    )


def solve_ring(
    machine: Machine, *, inner_radius: float, recoil: float, poles: int = 1
) -> RingSolution:
    """Solve magnet ring and gap for every harmonic.

    Parameters
    ----------
    machine : Machine
        A machine with a surface rotor.
    inner_radius : float
        Core's surface [m].
    recoil : float
        Relative permeability of the magnets, taken for the air between them as well.
    poles : int
        Poles after which the field repeats, with opposite sign if they are odd.

    Notes
    -----
    Ring of relative permeability mu_r from the core to the magnets' face, air from there to the
    bore (a sleeve is air). In each layer a = c r^n + d r^-n (+ particular); potential and
    tangential field are continuous at the face.
    """
    r, p = rotor_as(machine, SurfaceRotor), machine.pole_pairs
    count = np.arange(poles * HARMONICS)
    order = np.asarray(p * (2.0 * count + (1.0 if poles % 2 else 2.0)) / poles)
    face, bore = r.magnet_radius, machine.stator.bore_radius
    radial, tangential = magnet_harmonics(r, p, order)
    load = tangential + order * radial
    low, low_slope = particular(order, inner_radius, load)
    high, high_slope = particular(order, face, load)

    def layer(first: float, second: float) -> tuple[Array, Array]:
        x = order * np.log(second / first)
        return 1.0 / np.tanh(x), 1.0 / np.sinh(np.minimum(x, 600.0))

    c1, s1 = layer(inner_radius, face)
    c2, s2 = layer(face, bore)
    nu = 1.0 / recoil
    total = nu * c1 + c2
    face_source = nu * (c1 * high - s1 * low - (high_slope + face * tangential) / order) / total
    face_inner, face_outer = nu * s1 / total, s2 / total
    return RingSolution(
        order=order,
        inner=order * nu * (c1 - s1 * face_inner),
        outer=order * (c2 - s2 * face_outer),
        mutual=-order * s2 * face_inner,
        inner_source=-nu * (
            order * ((face_source - high) * s1 + low * c1) + low_slope + inner_radius * tangential
        ),
        outer_source=-order * s2 * face_source,
        face_inner=face_inner,
        face_outer=face_outer,
        face_source=face_source,
        load=load,
        mean=1.0 / (recoil * log(face / inner_radius) + log(bore / face)),
    )  # fmt: skip


def harmonics_of_nodes(order: Array, angles: Array, sector: Sector) -> tuple[Array, Array]:
    """Return sine and cosine harmonics of the potential per node, each of shape (n, nodes).

    Parameters
    ----------
    order : ndarray, shape (n,)
        Those of the sector.
    angles : ndarray, shape (nodes,)
        Of the nodes [rad], rising, within one sector; the potential is linear between them and
        changes by the sector's sign from sector to sector.
    sector : Sector
    """
    count = len(angles)
    ends = np.append(angles, angles[0] + sector.angle)
    width = np.diff(ends)
    # By parts twice: only the slopes' jumps are left; amplitude = 2 / angle times the integral.
    scale = 2.0 / (sector.angle * order**2)
    sine = scale[:, None] * np.diff(np.sin(np.outer(order, ends)), axis=1) / width
    cosine = scale[:, None] * np.diff(np.cos(np.outer(order, ends)), axis=1) / width
    out = []
    for slope in (sine, cosine):
        rows = -slope
        rows[:, 1:] += slope[:, : count - 1]
        # the node after the last is the first, over one pole with a minus
        rows[:, 0] += sector.sign * slope[:, count - 1]
        out.append(rows)
    return out[0], out[1]
