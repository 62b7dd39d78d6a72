"""Magnetising: what teeth and yokes take of a sinusoidal magnetomotive force, over the flux.

The sum of stator and rotor magnetomotive force is a sine over the pole. Along it the radial flux
density follows from gap, teeth and the yokes' share; saturated teeth flatten it. The fundamental
of each part's magnetomotive force against the fundamental of the flux makes the curves of
`IronCurves`. The gap's own is exactly linear.
"""

from dataclasses import dataclass
from math import pi

import numba
import numpy as np
from numpy.typing import NDArray

from models.cage_rotor import CageRotor
from models.constants import MU0
from models.errors import SolverError
from models.geometry.stator import tooth_width
from models.machine import Machine, Stator
from models.materials.reluctivity import ReluctivityTable

Array = NDArray[np.float64]

PLACES = 12
"""Places over a quarter period: the 12-point sums are exact to the 23rd harmonic."""
LEVELS = 28
"""Levels of magnetomotive force."""
HIGHEST = 12.0
"""Magnetomotive force of the highest level, over what the gap alone takes when the narrower of
the two rows of teeth carries 2 T; beyond it the curves go on straight."""
SATURATED = 2.0
"""Tooth flux density that levels are counted by [T]."""
CURVE_POINTS = 400
_X, _W = np.polynomial.legendre.leggauss(5)
GAUSS_PLACES, GAUSS_WEIGHTS = 0.5 * (1.0 + _X), 0.5 * _W
"""Gauss points over the height of a tooth, from 0 to 1, and weights that sum to 1."""


@dataclass(frozen=True, eq=False)
class Path:
    """Iron between two radii as the flux of one slot pitch sees it.

    Attributes
    ----------
    flux : ndarray, shape (n,)
        Flux per length and gap area, i.e. gap flux density [T], from 0.
    potential : ndarray, shape (n,)
        Magnetic potential over the path [A].
    """

    flux: Array
    potential: Array


@dataclass(frozen=True, eq=False)
class IronCurves:
    """Fundamental magnetomotive force of the iron over the fundamental of gap flux density.

    Attributes
    ----------
    gap_flux_density : ndarray, shape (n,)
        Amplitude of its fundamental [T], rising from 0.
    stator, rotor : ndarray, shape (n,)
        Amplitude of the fundamental of each side's drop, teeth and yoke [A].
    """

    gap_flux_density: Array
    stator: Array
    rotor: Array


def sheet_curve(table: ReluctivityTable) -> tuple[Array, Array]:
    """Return flux density [T] and field [A/m] of a sheet at even steps of flux density."""
    last = float(np.sqrt(table.step * (table.nu.size - 1)))
    b = np.linspace(0.0, last, CURVE_POINTS)
    nu, _ = table(b**2)
    return b, nu * b


def teeth_path(
    table: ReluctivityTable, *, radii: Array, widths: Array, pitch: float, gap_radius: float,
    length: float, stacking: float, reach: float,
) -> Path:  # fmt: skip
    """Return potential over a row of teeth.

    Parameters
    ----------
    table : ReluctivityTable
        Sheet.
    radii, widths : ndarray, shape (5,)
        Gauss points along the tooth, see `gauss_radii`, and the iron's width there [m].
    pitch : float
        Slot pitch [rad].
    gap_radius : float
        Radius at which the gap flux density is counted [m].
    length : float
        Length of the path [m].
    stacking : float
        Stacking factor.
    reach : float
        Largest gap flux density wanted [T].

    Returns
    -------
    Path
        Iron and slot side by side at the same field: phi = k b B(H) + mu0 H (tau - k b).
    """
    b, h = sheet_curve(table)
    fields = []
    flux = np.linspace(0.0, reach, CURVE_POINTS)
    for radius, width in zip(radii, widths):
        iron = stacking * width
        per_pitch = iron * b + MU0 * h * (pitch * radius - iron)
        wanted = flux * pitch * gap_radius
        beyond = np.maximum(wanted - per_pitch[-1], 0.0) / (MU0 * pitch * radius)
        fields.append(np.interp(wanted, per_pitch, h) + beyond)
    return Path(flux, length * GAUSS_WEIGHTS @ np.array(fields))


def gauss_radii(inner: float, outer: float) -> Array:
    """Return the radii at which a tooth's field is taken [m].

    The narrow end of a tooth needs most of the magnetomotive force: a sum that gives its
    neighbourhood too small a weight takes a saturated tooth for better than it is.
    """
    return inner + (outer - inner) * GAUSS_PLACES


def stator_teeth(stator: Stator, table: ReluctivityTable, stacking: float, reach: float) -> Path:
    """Return the stator's teeth as a path, from the tip to the slot bottom."""
    radii = gauss_radii(stator.body_inner_radius, stator.slot_bottom_radius)
    return teeth_path(
        table, radii=radii, widths=np.array([tooth_width(stator, float(r)) for r in radii]),
        pitch=stator.slot_pitch, gap_radius=stator.bore_radius, length=stator.body_height,
        stacking=stacking, reach=reach,
    )  # fmt: skip


def rotor_teeth(
    rotor: CageRotor, table: ReluctivityTable, stacking: float, *, gap_radius: float, reach: float
) -> Path:
    """Return the rotor's teeth as a path, from the bars' tops to their bottoms."""
    radii = gauss_radii(rotor.bar_bottom, rotor.bar_top)
    widths = np.maximum(rotor.slot_pitch * radii - rotor.width(radii), 0.0)
    return teeth_path(
        table, radii=radii, widths=widths, pitch=rotor.slot_pitch, gap_radius=gap_radius,
        length=rotor.bar_height, stacking=stacking, reach=reach,
    )  # fmt: skip


def iron_curves(machine: Machine, rotor: CageRotor, *, effective_gap: float) -> IronCurves:
    """Return the curves of a machine.

    Parameters
    ----------
    machine : Machine
        Stator and sheet.
    rotor : CageRotor
        Rotor.
    effective_gap : float
        Gap with Carter's factors [m].

    Returns
    -------
    IronCurves

    Raises
    ------
    SolverError
        The distribution of flux did not converge.
    """
    s, p, k = machine.stator, machine.pole_pairs, machine.stacking_factor
    table = machine.lamination.magnetisation
    mean_radius = 0.5 * (s.bore_radius + rotor.outer_radius)
    middle = 0.5 * (s.body_inner_radius + s.slot_bottom_radius)
    stator_share = k * tooth_width(s, middle) / (s.slot_pitch * mean_radius)
    place = np.array([0.5 * (rotor.bar_top + rotor.bar_bottom)])
    rotor_width = float((rotor.slot_pitch * place - rotor.width(place))[0])
    rotor_share = k * rotor_width / (rotor.slot_pitch * mean_radius)
    top = SATURATED * min(stator_share, rotor_share)
    b_sheet, h_sheet = sheet_curve(table)
    first = stator_teeth(s, table, k, 3.0 * top)
    second = rotor_teeth(rotor, table, k, gap_radius=mean_radius, reach=3.0 * top)
    levels = np.linspace(0.0, 1.0, LEVELS + 1)[1:] ** 2 * HIGHEST * top * effective_gap / MU0
    # flux of the yoke per radian of electrical angle and unit gap flux density, over its height
    step = 0.5 * pi / PLACES / p
    stator_yoke = mean_radius * step / (k * s.yoke_height)
    rotor_yoke = mean_radius * step / (k * rotor.yoke_height)
    waves, is_solved = _distribute(
        levels, effective_gap / MU0, first.flux[1], first.potential, second.potential,
        b_sheet[1], h_sheet,
        stator_yoke, (s.outer_radius - 0.5 * s.yoke_height) * step,
        rotor_yoke, (rotor.shaft_radius + 0.5 * rotor.yoke_height) * step,
    )  # fmt: skip
    if not is_solved:
        raise SolverError("the flux distribution over the pole of the cage machine did not settle")
    angle = (np.arange(PLACES) + 0.5) * 0.5 * pi / PLACES
    weight = 2.0 / PLACES * np.cos(angle)
    stator_drop = np.interp(waves, first.flux, first.potential)
    rotor_drop = np.interp(waves, second.flux, second.potential)
    yoke = np.cumsum(waves, axis=1)
    stator_drop = stator_drop + _yoke_potential(
        yoke * stator_yoke, b_sheet, h_sheet, (s.outer_radius - 0.5 * s.yoke_height) * step
    )
    rotor_drop = rotor_drop + _yoke_potential(
        yoke * rotor_yoke, b_sheet, h_sheet, (rotor.shaft_radius + 0.5 * rotor.yoke_height) * step
    )
    zero = np.zeros(1)
    return IronCurves(
        gap_flux_density=np.concatenate([zero, waves @ weight]),
        stator=np.concatenate([zero, stator_drop @ weight]),
        rotor=np.concatenate([zero, rotor_drop @ weight]),
    )


def _yoke_potential(density: Array, b: Array, h: Array, length: float) -> Array:
    """Return the potential from each place to the pole's edge; `density` at the cells' far ends."""
    field = np.interp(density, b, h) + np.maximum(density - b[-1], 0.0) / MU0
    pieces = field * length
    pieces[:, -1] *= 0.5
    return np.asarray(np.cumsum(pieces[:, ::-1], axis=1)[:, ::-1])


@numba.njit(cache=True, error_model="numpy")
def _lookup(values: Array, step: float, x: float, slope_beyond: float) -> tuple[float, float]:
    """Return value and slope of an even table from 0; beyond it a straight line."""
    n = values.shape[0]
    position = x / step
    k = int(position)
    if k >= n - 1:
        return values[n - 1] + (x - step * (n - 1)) * slope_beyond, slope_beyond
    slope = (values[k + 1] - values[k]) / step
    return values[k] + (position - k) * step * slope, slope


@numba.njit(cache=True, error_model="numpy")
def _distribute(
    levels: Array, gap: float, flux_step: float, stator: Array, rotor: Array,
    b_step: float, sheet: Array, stator_yoke: float, stator_length: float,
    rotor_yoke: float, rotor_length: float,
) -> tuple[Array, bool]:  # fmt: skip
    """Return gap flux density at the places for each level, by Newton's method from the last.

    The residual is the gradient of a convex energy, so halving a step that raises it suffices.
    """
    n = PLACES
    out = np.empty((levels.shape[0], n))
    b = np.zeros(n)
    beyond = 1.0 / MU0
    cosine = np.empty(n)
    for j in range(n):
        cosine[j] = np.cos((j + 0.5) * 0.5 * np.pi / n)
    residual = np.empty(n)
    matrix = np.empty((n, n))
    total = np.empty(n)
    yoke_slope = np.empty(n)
    trial = b.copy()
    for level in range(levels.shape[0]):
        step = np.zeros(n)
        last = np.inf
        is_done = False
        for _ in range(80):
            trial[:] = b + step
            # residual and slopes at the trial
            size = 0.0
            matrix[:, :] = 0.0
            flux = 0.0
            for j in range(n):
                flux += trial[j]
                h1, d1 = _lookup(sheet, b_step, abs(flux * stator_yoke), beyond)
                h2, d2 = _lookup(sheet, b_step, abs(flux * rotor_yoke), beyond)
                share = 0.5 if j == n - 1 else 1.0
                sign = 1.0 if flux >= 0.0 else -1.0
                total[j] = sign * share * (h1 * stator_length + h2 * rotor_length)
                yoke_slope[j] = share * (
                    d1 * stator_length * stator_yoke + d2 * rotor_length * rotor_yoke
                )
            rest = 0.0
            rest_slope = 0.0
            for j in range(n - 1, -1, -1):
                rest += total[j]
                rest_slope += yoke_slope[j]
                u1, s1 = _lookup(stator, flux_step, abs(trial[j]), gap)
                u2, s2 = _lookup(rotor, flux_step, abs(trial[j]), gap)
                sign = 1.0 if trial[j] >= 0.0 else -1.0
                residual[j] = gap * trial[j] + sign * (u1 + u2) + rest - levels[level] * cosine[j]
                size += residual[j] * residual[j]
                # flux through cell m counts from place j on for every m >= j, seen from i <= m
                for i in range(j + 1):
                    matrix[i, j] = rest_slope
                    matrix[j, i] = rest_slope
                matrix[j, j] = rest_slope + gap + s1 + s2
            if size > last * (1.0 + 1e-12) and np.abs(step).max() > 1e-12:
                step *= 0.5
                continue
            b[:] = trial
            last = size
            if np.sqrt(size / n) < 1e-6 * levels[level]:
                is_done = True
                break
            step[:] = -np.linalg.solve(matrix, residual)
        if not is_done:
            return out, False
        out[level] = b
    return out, True
