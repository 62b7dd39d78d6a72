"""Iron loss from local flux-density waveforms: hysteresis, classical eddy and excess parts."""

from functools import cache
from math import gamma, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError
from models.materials.catalogue import Lamination

Array = NDArray[np.float64]
SINE_EXCESS = gamma(1.25) / (sqrt(pi) * gamma(1.75))
"""Mean of |cos|^1.5 over a period: what the excess coefficient of a sinusoidal test contains."""


@cache
def derivative_matrix(samples: int) -> Array:
    """Return D so that `waveform @ D` is d/d theta of its trigonometric interpolant.

    Parameters
    ----------
    samples : int
        Uniform samples over one period, at least 4.

    Returns
    -------
    ndarray, shape (samples, samples)
        Exact for harmonics below samples / 2; the harmonic at samples / 2 (whose phase the
        samples do not tell) has no slope at the samples and is left out.
    """
    if samples < 4:
        raise InvalidInputError(
            f"iron-loss waveform: {samples} samples per period given, at least 4 are needed"
        )
    n = np.fft.fftfreq(samples, 1.0 / samples)
    if samples % 2 == 0:
        n[samples // 2] = 0.0
    d = np.fft.ifft(1j * n[:, None] * np.fft.fft(np.eye(samples), axis=0), axis=0).real
    return np.ascontiguousarray(d.T)


def loss_coefficients(
    waveforms: Array, masses: Array, lamination: Lamination
) -> tuple[Array, Array, Array]:
    """Return a, b, c of the iron loss P = a f + b f^2 + c f^1.5.

    Parameters
    ----------
    waveforms : ndarray, shape (..., cells, samples)
        Flux density along a fixed direction over one electrical period, uniform in time [T].
    masses : ndarray, shape (cells,)
        Mass that each cell stands for [kg].
    lamination : Lamination
        Sheet; its build factor multiplies all three.

    Returns
    -------
    tuple of 3 ndarray, shape (...)
        Hysteresis [W/Hz], classical [W/Hz^2], excess [W/Hz^1.5].

    Notes
    -----
    Hysteresis from half the swing B_p of each cell with the sheet's B^(alpha + beta B) law
    (minor loops are not counted). Classical: the time mean of (dB/dt)^2, which is
    sum (n B_n)^2 over all harmonics. Excess: the time mean of |dB/dt|^1.5, scaled to give the
    sheet's coefficient for a sine. Valid while skin depth exceeds the sheet thickness (0.3 mm
    sheet: to a few kHz). From memory: catalogue coefficients without a build factor give 20-50 %
    less than measured machines.

    References
    ----------
    G. Bertotti, *Hysteresis in Magnetism*, 1998, ch. 12; F. Fiorillo and A. Novikov, IEEE Trans.
    Magn. 26(5) 2904, 1990 (both from memory).
    """
    slope = _slope(waveforms)
    size = np.abs(slope)
    return _sum_cells(
        [_swing(waveforms)], np.mean(size**2, -1), np.mean(size * np.sqrt(size), -1),
        masses, lamination,
    )  # fmt: skip


def loss_coefficients_of_components(
    radial: Array, tangential: Array, masses: Array, lamination: Lamination
) -> tuple[Array, Array, Array]:
    """Return a, b, c of the iron loss from two orthogonal components of flux density.

    Parameters
    ----------
    radial, tangential : ndarray, shape (..., cells, samples)
        Components over one electrical period [T].
    masses, lamination
        As for `loss_coefficients`.

    Returns
    -------
    tuple of 3 ndarray, shape (...)
        As for `loss_coefficients`.

    Notes
    -----
    Hysteresis adds that of both components; classical and excess use the vector dB/dt, so they
    do not depend on the choice of axes. For a circular field the hysteresis sum is the usual
    twice-alternating estimate, too high above about 1.6 T where rotational loss falls (from
    memory).
    """
    square = _slope(radial) ** 2 + _slope(tangential) ** 2
    size = np.sqrt(square)
    return _sum_cells(
        [_swing(radial), _swing(tangential)], np.mean(square, -1), np.mean(size * np.sqrt(size), -1),
        masses, lamination,
    )  # fmt: skip


def _slope(waveforms: Array) -> Array:
    samples = waveforms.shape[-1]
    return np.asarray(waveforms.reshape(-1, samples) @ derivative_matrix(samples)).reshape(
        waveforms.shape
    )


def _swing(waveforms: Array) -> Array:
    return np.asarray(0.5 * (waveforms.max(axis=-1) - waveforms.min(axis=-1)))


def _sum_cells(
    swings: list[Array], square: Array, power: Array, masses: Array, lamination: Lamination
) -> tuple[Array, Array, Array]:
    """Weight the cells by mass. `square`, `power`: means of |dB/d theta|^2 and ^1.5."""
    fit = lamination.loss
    mass = masses * lamination.build_factor
    hysteresis = sum(s ** (fit.alpha + fit.beta * s) for s in swings)
    return (
        np.asarray(fit.hysteresis * (np.asarray(hysteresis) @ mass)),
        np.asarray(2.0 * fit.classical * (square @ mass)),
        np.asarray(fit.excess / SINE_EXCESS * (power @ mass)),
    )
