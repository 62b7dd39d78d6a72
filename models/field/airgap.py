"""Air gap as an analytic annulus: couples both sides at any rotor angle, and gives torque.

Between two circles in the gap the vector potential solves Laplace's equation. Its Fourier
coefficients on the circles follow from the nodes there; the annulus energy is a quadratic form of
them in which the rotor angle is a mere phase. Torque is the derivative of that energy.
"""

from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import NDArray

from models.constants import MU0

Array = NDArray[np.float64]

_GAUSS = np.polynomial.legendre.leggauss(8)


@dataclass(frozen=True, eq=False)
class AirGap:
    """Energy form of the annulus, per metre of length, over the poles covered.

    W = 1/2 sum_k w_k [ coth(k L) (|c1|^2 + |c2|^2) - 2 / sinh(k L) Re(c1 e^(-i k alpha) c2*) ]
    with c = (2 / theta_p) integral of A e^(-i k theta), L = ln(r2 / r1), w_k = k theta_p / (2 mu0)
    and k = p, 3p, 5p ... over one pole; over `poles` poles of together theta_p odd or all multiples
    of pi / theta_p, for odd and even numbers of them.

    Attributes
    ----------
    orders : ndarray, shape (h,)
        k.
    cosine_1, sine_1, cosine_2, sine_2 : ndarray, shape (h, n1) and (h, n2)
        Nodal values to Fourier coefficients, rotor side (1) and stator side (2).
    own, mutual : ndarray, shape (h,)
        w_k coth(k L) and w_k / sinh(k L) [m/H].
    log_ratio : float
        L.
    """

    orders: Array
    cosine_1: Array
    sine_1: Array
    cosine_2: Array
    sine_2: Array
    own: Array
    mutual: Array
    log_ratio: float

    def own_blocks(self) -> tuple[Array, Array]:
        """Return the stiffness among rotor-side and among stator-side nodes [m/H]."""
        w = self.own[:, None]
        return (
            self.cosine_1.T @ (w * self.cosine_1) + self.sine_1.T @ (w * self.sine_1),
            self.cosine_2.T @ (w * self.cosine_2) + self.sine_2.T @ (w * self.sine_2),
        )

    def mutual_block(self, angle: float) -> Array:
        """Return the stiffness between rotor- and stator-side nodes, shape (n1, n2).

        Parameters
        ----------
        angle : float
            Mechanical angle of the rotor's axes in the stator's axes [rad].
        """
        c = (np.cos(self.orders * angle) * self.mutual)[:, None]
        s = (np.sin(self.orders * angle) * self.mutual)[:, None]
        turned_cosine = c * self.cosine_1 - s * self.sine_1
        turned_sine = c * self.sine_1 + s * self.cosine_1
        return -(turned_cosine.T @ self.cosine_2 + turned_sine.T @ self.sine_2)

    def radial_flux_density(self, a1: Array, a2: Array, angle: float, share: float) -> Array:
        """Return the complex amplitude of B_r of each harmonic, times the radius [Wb/m].

        r B_r = Re sum (amplitude e^(i k theta)), theta in the stator's axes.

        Parameters
        ----------
        a1, a2 : ndarray
            Potential of the interface unknowns.
        angle : float
            Mechanical angle of the rotor's axes [rad].
        share : float
            Place in the annulus: ln(r / r1) / ln(r2 / r1), 0 to 1.
        """
        c1 = (self.cosine_1 @ a1 - 1j * (self.sine_1 @ a1)) * np.exp(-1j * self.orders * angle)
        c2 = self.cosine_2 @ a2 - 1j * (self.sine_2 @ a2)
        scale = self.orders * self.log_ratio
        below = _sinh_ratio(scale * (1.0 - share), scale)
        above = _sinh_ratio(scale * share, scale)
        out: Array = 1j * self.orders * (c1 * below + c2 * above)
        return out

    def torque(self, a1: Array, a2: Array, angle: float) -> float:
        """Return torque on the rotor per metre [N]: minus the derivative of the poles' energy.

        T = sum_k k w_k / sinh(k L) Im(c1 e^(-i k alpha) c2*)
        """
        c1 = self.cosine_1 @ a1 - 1j * (self.sine_1 @ a1)
        c2 = self.cosine_2 @ a2 - 1j * (self.sine_2 @ a2)
        turned = c1 * np.exp(-1j * self.orders * angle)
        return float(np.sum(self.orders * self.mutual * (turned * c2.conj()).imag))


def air_gap(
    *,
    angles_1: Array,
    angles_2: Array,
    radius_1: float,
    radius_2: float,
    pole_pairs: int,
    harmonics: int,
    poles: int = 1,
) -> AirGap:
    """Build the annulus between two interfaces.

    Parameters
    ----------
    angles_1, angles_2 : ndarray, shape (2 s + 1,)
        Polar angles of the interface nodes (ends and middles of second-order segments), rotor
        and stator side, each over one pole [rad].
    radius_1, radius_2 : float
        Interface radii, the first the smaller [m].
    pole_pairs : int
        Pole pairs p.
    harmonics : int
        Number of orders to keep.
    poles : int
        Poles covered: theta_p is their angle.
    """
    first = 1.0 if poles % 2 else 2.0
    orders: Array = np.asarray((first + 2.0 * np.arange(harmonics)) * pole_pairs / poles)
    pole = poles * pi / pole_pairs
    ratio = orders * log(radius_2 / radius_1)
    weight = orders * pole / (2.0 * MU0)
    decay = np.exp(-ratio)
    inverse_sinh = 2.0 * decay / (1.0 - decay**2)
    coth = (1.0 + decay**2) / (1.0 - decay**2)
    return AirGap(
        orders,
        *_coefficients(angles_1, orders, pole),
        *_coefficients(angles_2, orders, pole),
        own=weight * coth,
        mutual=weight * inverse_sinh,
        log_ratio=log(radius_2 / radius_1),
    )


def _sinh_ratio(part: Array, whole: Array) -> Array:
    """Return sinh(part) / sinh(whole) for 0 <= part <= whole, without overflow."""
    out: Array = np.exp(part - whole) * np.expm1(-2.0 * part) / np.expm1(-2.0 * whole)
    return out


def _coefficients(angles: Array, orders: Array, pole: float) -> tuple[Array, Array]:
    """Integrate the piecewise quadratic traces against cosines and sines, shape (h, n)."""
    t, w = _GAUSS
    value = np.stack((0.5 * t * (t - 1.0), 1.0 - t * t, 0.5 * t * (t + 1.0)), axis=1)
    start, end = angles[:-1:2], angles[2::2]
    half = 0.5 * (end - start)
    theta = 0.5 * (start + end)[:, None] + half[:, None] * t
    scaled = (2.0 / pole) * half[:, None] * w
    phase = orders[:, None, None] * theta
    out = []
    for wave in (np.cos(phase), np.sin(phase)):
        local = np.einsum("hsq,sq,qi->hsi", wave, scaled, value)
        total = np.zeros((len(orders), len(angles)))
        total[:, :-1:2] += local[:, :, 0]
        total[:, 1::2] += local[:, :, 1]
        total[:, 2::2] += local[:, :, 2]
        out.append(total)
    return out[0], out[1]
