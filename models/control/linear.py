"""Closed forms for a synchronous machine with constant parameters and no resistance.

Psi_d = psi + L_d i_d, psi_q = L_q i_q, T = 1.5 p [psi i_q + (L_d - L_q) i_d i_q], peak-value dq,
voltage limit (w psi_d)^2 + (w psi_q)^2 <= V^2 at electrical speed w. They serve as oracle of the
numerical operating points and as quick estimates.

References
----------
Morimoto et al., IEEE Trans. Ind. Appl. 26(5), 1990, DOI 10.1109/28.60058.
Soong, Miller, IEE Proc. Electr. Power Appl. 141(6), 1994, DOI 10.1049/ip-epa:19941470.
Betz et al., IEEE Trans. Ind. Appl. 29(6), 1993, DOI 10.1109/28.259721 (reluctance machines).
"""

from dataclasses import dataclass
from math import hypot, inf, sqrt

from models.errors import InvalidInputError


@dataclass(frozen=True)
class ConstantMachine:
    """A machine with constant parameters.

    Attributes
    ----------
    pole_pairs : int
        Pole pairs p, at least 1.
    psi : float
        Open-circuit flux linkage [Wb], >= 0; 0 is a reluctance machine.
    l_d, l_q : float
        Inductances [H], > 0. With psi = 0, d is the axis of the larger one.
    """

    pole_pairs: int
    psi: float
    l_d: float
    l_q: float

    def __post_init__(self) -> None:
        if self.pole_pairs < 1 or self.psi < 0.0 or min(self.l_d, self.l_q) <= 0.0:
            raise InvalidInputError(
                f"constant machine: pole pairs {self.pole_pairs}, psi {self.psi} Wb, L_d "
                f"{self.l_d}, L_q {self.l_q} H; needs p >= 1, psi >= 0, inductances > 0"
            )

    def torque(self, i_d: float, i_q: float) -> float:
        """Return the torque [N*m] of peak currents [A]."""
        return 1.5 * self.pole_pairs * (self.psi + (self.l_d - self.l_q) * i_d) * i_q

    def flux(self, i_d: float, i_q: float) -> float:
        """Return the stator flux linkage amplitude [Wb] of peak currents [A]."""
        return hypot(self.psi + self.l_d * i_d, self.l_q * i_q)


def max_torque_per_ampere(machine: ConstantMachine, current: float) -> tuple[float, float]:
    """Return (i_d, i_q) [A] of the largest torque at a current amplitude [A].

    i_d = [psi - sqrt(psi^2 + 8 (L_q - L_d)^2 I^2)] / [4 (L_q - L_d)].
    """
    difference = machine.l_q - machine.l_d
    if abs(difference) * current < 1e-12 * max(machine.psi, 1e-12):
        return 0.0, current
    root = sqrt(machine.psi**2 + 8.0 * (difference * current) ** 2)
    i_d = (machine.psi - root) / (4.0 * difference)
    return i_d, sqrt(max(0.0, current**2 - i_d**2))


def base_speed(machine: ConstantMachine, current: float, voltage: float) -> float:
    """Return the electrical speed [rad/s] at which the largest torque meets the voltage [V]."""
    return voltage / machine.flux(*max_torque_per_ampere(machine, current))


def characteristic_current(machine: ConstantMachine) -> float:
    """Return psi / L_d [A], the short-circuit current at high speed."""
    return machine.psi / machine.l_d


def top_speed(machine: ConstantMachine, current: float, voltage: float) -> float:
    """Return the electrical speed [rad/s] up to which there is torque, infinite without limit.

    V / (psi - L_d I) while the current is below the characteristic current.
    """
    rest = machine.psi - machine.l_d * current
    return voltage / rest if rest > 0.0 else inf


def max_torque_per_volt(
    machine: ConstantMachine, voltage: float, speed: float
) -> tuple[float, float]:
    """Return (i_d, i_q) [A] of the largest torque at a voltage [V] and electrical speed [rad/s].

    With D = L_q - L_d and F = V / w the d-axis flux linkage is
    [L_q psi - sqrt((L_q psi)^2 + 8 D^2 F^2)] / (4 D), zero for D = 0.
    """
    flux = voltage / speed
    difference = machine.l_q - machine.l_d
    if abs(difference) < 1e-9 * machine.l_q:
        flux_d = 0.0
    else:
        product = machine.l_q * machine.psi
        flux_d = (product - sqrt(product**2 + 8.0 * (difference * flux) ** 2)) / (4.0 * difference)
    i_d = (flux_d - machine.psi) / machine.l_d
    return i_d, sqrt(max(0.0, flux**2 - flux_d**2)) / machine.l_q


def largest_torque(
    machine: ConstantMachine, current: float, voltage: float, speed: float
) -> tuple[float, float]:
    """Return (i_d, i_q) [A] of the largest torque within current and voltage.

    Parameters
    ----------
    machine : ConstantMachine
        Machine with L_q >= L_d when it has magnets.
    current, voltage : float
        Largest amplitudes [A], [V].
    speed : float
        Electrical speed [rad/s], >= 0.

    Returns
    -------
    tuple of 2 float
        Max torque per ampere below base speed; then the crossing of current circle and voltage
        ellipse; then, where it lies within the current, max torque per volt. Beyond the top
        speed (-current, 0).
    """
    best = max_torque_per_ampere(machine, current)
    if speed * machine.flux(*best) <= voltage:
        return best
    at_voltage = max_torque_per_volt(machine, voltage, speed)
    if hypot(*at_voltage) <= current:
        return at_voltage
    # (L_d^2 - L_q^2) x^2 + 2 psi L_d x + psi^2 + L_q^2 I^2 - (V/w)^2 = 0
    a = machine.l_d**2 - machine.l_q**2
    b = 2.0 * machine.psi * machine.l_d
    c = machine.psi**2 + (machine.l_q * current) ** 2 - (voltage / speed) ** 2
    if abs(a) < 1e-9 * machine.l_q**2:
        roots = [-c / b]
    else:
        root = sqrt(max(0.0, b * b - 4.0 * a * c))
        roots = [(-b + root) / (2.0 * a), (-b - root) / (2.0 * a)]
    points = [(x, sqrt(current**2 - x**2)) for x in roots if -current <= x <= current]
    return max(points, key=lambda x: machine.torque(*x), default=(-current, 0.0))


def surface_magnet_speed_ratio(flux_ratio: float) -> float:
    """Return top over base speed of a machine without saliency.

    sqrt(1 + r^2) / (1 - r) with r = L I / psi; infinite from r = 1 on (Soong, Miller 1994).
    """
    if flux_ratio >= 1.0:
        return inf
    return sqrt(1.0 + flux_ratio**2) / (1.0 - flux_ratio)


def reluctance_power_factor(saliency: float, tangent: float) -> float:
    """Return the power factor of an ideal reluctance machine.

    Parameters
    ----------
    saliency : float
        L_d / L_q, above 1.
    tangent : float
        i_q / i_d of the current vector, above 0.

    Returns
    -------
    float
        (xi - 1) t / sqrt((xi^2 + t^2) (1 + t^2)): 45 degrees (t = 1) gives most torque per
        ampere, t = sqrt(xi) the best power factor (xi - 1)/(xi + 1), t = xi most torque per volt
        (Betz et al. 1993).
    """
    t2 = tangent * tangent
    return (saliency - 1.0) * tangent / sqrt((saliency**2 + t2) * (1.0 + t2))
