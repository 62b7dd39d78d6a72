"""What the inverter's switching adds to the losses: ripple of voltage, flux and current.

Symmetrical space-vector modulation of a two-level inverter. Voltage between two switching
instants is known, so the ripple of stator flux is known without the machine; iron and winding
answer to it.
"""

from dataclasses import dataclass
from functools import cache
from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.constants import MU0
from models.geometry.stator import tooth_width
from models.losses.copper import resistance_ratio
from models.machine import Machine
from models.materials.catalogue import Lamination

Array = NDArray[np.float64]
HARMONICS = 64
"""Multiples of the switching frequency counted; what lies beyond holds 2 % of the voltage ripple
(10 % at a twentieth of the linear limit) and next to nothing of the flux ripple."""
CURRENT_HARMONICS = 12
"""Of these, how many count in the winding: current falls with frequency."""
LEVELS = np.linspace(0.0, 1.0, 21)
"""Voltage amplitudes of the tables, over the linear limit U_dc / sqrt(3)."""
_ANGLES = (np.arange(24) + 0.5) / 24.0 * pi / 3.0
RIPPLE_PERMEABILITY = 1000.0
"""Relative permeability of the sheets to small loops inside the large one, the reversible one:
some hundred to two thousand, lower near saturation (common practice, no source). Three times as
much lowers the loss by 38 %, a third raises it by 26 % (0.35 mm sheet, 10 kHz, full voltage)."""


@cache
def ripple_spectrum() -> Array:
    """Return the mean square of the ripple of the voltage vector, over U_dc^2.

    Returns
    -------
    ndarray, shape (n_levels, HARMONICS)
        For the amplitudes of `LEVELS`, at 1, 2 ... times the switching frequency; mean over the
        fundamental period. Vectors are amplitude-invariant: a sine of amplitude V has V^2.

    Notes
    -----
    In one switching period the vectors at 0 and 60 degrees stand for d_1 = m sin(60 deg - a) and
    d_2 = m sin(a), m = sqrt(3) V / U_dc, the zero vectors for the rest, a half of it in the middle
    and a quarter at each end. That is symmetrical, so harmonic k of the vector is a cosine, and
    its mean square is 2 |c_k|^2. The switching frequency is taken as many times the fundamental.

    References
    ----------
    H. W. van der Broeck, H.-C. Skudelny, G. V. Stanke, IEEE Trans. Ind. Appl. 24(1) 142, 1988, for
    the modulation (from memory). Sums checked in `tests/published/test_switching.py`.
    """
    m = LEVELS[:, None, None]
    first = m * np.sin(pi / 3.0 - _ANGLES)[:, None]
    second = m * np.sin(_ANGLES)[:, None]
    quarter = 0.25 * (1.0 - first - second)
    k = 2.0 * pi * np.arange(1, HARMONICS + 1)

    def pulses(start: Array, width: Array) -> Array:
        # Two pulses of half the vector's time, mirrored about the middle of the period.
        return np.asarray(2.0 / k * (np.sin(k * (start + 0.5 * width)) - np.sin(k * start)))

    turn = np.exp(1j * pi / 3.0)
    vector = pulses(quarter, first) + turn * pulses(quarter + 0.5 * first, second)
    square = 2.0 * (2.0 / 3.0) ** 2 * np.abs(vector) ** 2
    mean = np.ascontiguousarray(square.mean(axis=1))
    mean.setflags(write=False)
    return mean


def ripple_square(level: ArrayLike) -> Array:
    """Return the mean square of the whole voltage ripple over U_dc^2.

    Parameters
    ----------
    level : array_like
        Amplitude of the fundamental over U_dc / sqrt(3), >= 0.

    Notes
    -----
    The vector has size 2 U / 3 while a phase conducts, a share 3 m / pi of the time, and the
    fundamental is taken off: 4 m / (3 pi) - m^2 / 3. Above the linear range that share ends at
    one; at 2 sqrt(3) / pi (six-step) the value is exact again.
    """
    m = np.asarray(level, dtype=float)
    conducting = np.minimum(3.0 * m / pi, 1.0)
    return np.asarray(np.maximum(4.0 / 9.0 * conducting - m**2 / 3.0, 0.0))


def sheet_reduction(sheet: Lamination, frequency: ArrayLike) -> Array:
    """Return the classical loss of a sheet over its value without skin effect, at equal flux.

    Parameters
    ----------
    sheet : Lamination
        Sheet of `RIPPLE_PERMEABILITY`.
    frequency : array_like, shape (...)
        [Hz], > 0.

    Returns
    -------
    ndarray, shape (...)
        (3 / x) (sinh x - sin x) / (cosh x - cos x), x = thickness over skin depth; in (0, 1].

    References
    ----------
    J. Lammeraner and M. Stafl, *Eddy Currents*, 1966 (from memory): sheet with a given mean flux.
    """
    permeability = RIPPLE_PERMEABILITY * MU0
    depth = np.sqrt(sheet.resistivity / (pi * np.asarray(frequency, dtype=float) * permeability))
    x = np.maximum(sheet.thickness / depth, 1e-2)
    e = np.exp(-x)
    numerator = 0.5 * (1.0 - e**2) - e * np.sin(x)
    return np.asarray(3.0 / x * numerator / (0.5 * (1.0 + e**2) - e * np.cos(x)))


@dataclass(frozen=True, eq=False)
class SwitchingLoss:
    """Loss by switching of one machine on one DC link, read by terminal voltage.

    Attributes
    ----------
    linear_voltage : float
        U_dc / sqrt(3) [V].
    iron : ndarray, shape (n_levels,)
        Loss in the stator's sheets at `LEVELS` [W].
    winding : ndarray, shape (n_levels,)
        Winding loss at `LEVELS` times the square of inductance [W H^2].
    """

    linear_voltage: float
    iron: Array
    winding: Array

    def at(self, voltage: Array, inverse_square: Array) -> tuple[Array, Array]:
        """Return iron and winding loss [W].

        Parameters
        ----------
        voltage : ndarray, shape (n,)
            Amplitude of the phase voltage [V].
        inverse_square : ndarray, shape (n,)
            (1 / L_d^2 + 1 / L_q^2) / 2 of the differential inductances [1/H^2].
        """
        level = voltage / self.linear_voltage
        iron = np.interp(level, LEVELS, self.iron)
        winding = np.interp(level, LEVELS, self.winding)
        # Beyond the linear range both fall as the ripple does.
        beyond = level > 1.0
        if beyond.any():
            share = ripple_square(level[beyond]) / ripple_square(1.0)
            iron[beyond] *= share
            winding[beyond] *= share
        return iron, winding * inverse_square


def switching_loss(
    machine: Machine, *, frequency: float, dc_voltage: float, teeth_mass: float,
    yoke_mass: float, winding_temperature: float, resistance: float,
) -> SwitchingLoss:  # fmt: skip
    """Return what switching adds to the losses of a machine.

    Parameters
    ----------
    machine : Machine
        The machine.
    frequency : float
        Switching frequency [Hz], > 0.
    dc_voltage : float
        [V].
    teeth_mass, yoke_mass : float
        Stator sheets [kg].
    winding_temperature : float
        [degC].
    resistance : float
        Direct-current resistance of a phase at that temperature [ohm].

    Returns
    -------
    SwitchingLoss

    Notes
    -----
    Iron: hysteresis follows the mean of the rectified voltage, which switching leaves as it is;
    eddy loss follows its mean square. A linkage vector psi puts c |psi| into every tooth and the
    yoke (c from flux per pole and sections), so that with dpsi/dt = v the classical part is
    k_cl m c^2 <|v_ripple|^2> / (2 pi)^2, each harmonic with the sheet's own skin effect. Like that
    of the fundamental it is multiplied by the build factor. Left out: minor loops and excess loss
    (some per cent of the fundamental's), leakage (all ripple flux is taken through teeth and yoke:
    high), rotor iron, magnets and cage, whose eddy currents also push flux back.

    Winding: ripple of flux over differential inductance is ripple of current, times the
    resistance at that harmonic. Eddy currents in iron and magnets lower the inductance a little.

    References
    ----------
    Z. Gmyrek, A. Boglietti, A. Cavagnino, IEEE Trans. Ind. Electron. 55(4) 1722, 2008, and A.
    Boglietti and A. Cavagnino et al. on inverter-fed motors: hysteresis by mean rectified and eddy
    loss by effective voltage, against measurements (abstracts read).
    """
    spectrum = ripple_spectrum() * dc_voltage**2
    harmonic = frequency * np.arange(1, HARMONICS + 1)
    seen = spectrum @ sheet_reduction(machine.lamination, harmonic)
    sheet = machine.lamination
    iron = sheet.loss.classical * sheet.build_factor / (2.0 * pi) ** 2 * seen
    low = harmonic[:CURRENT_HARMONICS]
    ratio = resistance_ratio(machine, low, winding_temperature)
    flux = spectrum[:, :CURRENT_HARMONICS] / (2.0 * pi * low) ** 2
    teeth, yoke = flux_density_per_linkage(machine)
    return SwitchingLoss(
        linear_voltage=dc_voltage / sqrt(3.0),
        iron=iron * (teeth_mass * teeth**2 + yoke_mass * yoke**2),
        winding=1.5 * resistance * (flux @ ratio),
    )


def flux_density_per_linkage(machine: Machine) -> tuple[float, float]:
    """Return peak flux density in teeth and yoke per flux linkage amplitude [T/Wb].

    Notes
    -----
    Flux per pole psi / (N k_w), sine-shaped in the gap; teeth at half of the slots' height.
    """
    s, w, p = machine.stator, machine.winding, machine.pole_pairs
    length = machine.stack_length * machine.stacking_factor
    pole_flux = 1.0 / (w.series_turns * w.winding_factor)
    gap = pole_flux * p / (2.0 * s.bore_radius)  # per stack length
    width = tooth_width(s, 0.5 * (s.body_inner_radius + s.slot_bottom_radius))
    teeth = gap * s.bore_radius * s.slot_pitch / width / length
    return teeth, 0.5 * pole_flux / s.yoke_height / length
