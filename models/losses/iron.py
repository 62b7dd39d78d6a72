"""Iron loss from local flux-density waveforms: hysteresis, classical eddy and excess parts."""

from functools import cache
from math import gamma, pi, sqrt

import numba
import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError
from models.materials.catalogue import Lamination

Array = NDArray[np.float64]
SINE_EXCESS = gamma(1.25) / (sqrt(pi) * gamma(1.75))
"""Mean of |cos|^1.5 over a period: what the excess coefficient of a sinusoidal test contains."""
MINOR_LOOPS = 0.65
"""Weight of minor loops: J. D. Lavers, P. P. Biringer, H. Hollitscher, IEEE Trans. Magn. 14(5) 386,
1978, give 0.6 to 0.7 (from memory)."""


@cache
def derivative_matrix(samples: int, is_half: bool = False) -> Array:
    """Return D so that `waveform @ D` is d/d theta of its trigonometric interpolant.

    Parameters
    ----------
    samples : int
        Uniform samples over one period, at least 4.
    is_half : bool
        Whether the samples are half a period, the other half of which is its negative.

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
    if is_half:
        whole = derivative_matrix(2 * samples)
        return np.ascontiguousarray((whole[:samples] - whole[samples:])[:, :samples])
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
    Hysteresis from half the swing B_p of each cell with the sheet's B^(alpha + beta B) law, times
    1 + 0.65 sum(dB) / B_p for minor loops that reverse by dB. Classical: the time mean of
    (dB/dt)^2, which is sum (n B_n)^2 over all harmonics. Excess: the time mean of |dB/dt|^1.5,
    scaled to give the sheet's coefficient for a sine. Valid while skin depth exceeds the sheet
    thickness (0.3 mm sheet: to a few kHz). From memory: catalogue coefficients without a build
    factor give 20-50 % less than measured machines.

    References
    ----------
    G. Bertotti, *Hysteresis in Magnetism*, 1998, ch. 12; F. Fiorillo and A. Novikov, IEEE Trans.
    Magn. 26(5) 2904, 1990 (both from memory).
    """
    return loss_coefficients_of_components(waveforms, np.zeros_like(waveforms), masses, lamination)


def loss_coefficients_of_components(
    radial: Array,
    tangential: Array,
    masses: Array,
    lamination: Lamination,
    *,
    is_half: bool = False,
) -> tuple[Array, Array, Array]:
    """Return a, b, c of the iron loss from two orthogonal components of flux density.

    Parameters
    ----------
    radial, tangential : ndarray, shape (..., cells, samples)
        Components over one electrical period [T].
    masses, lamination
        As for `loss_coefficients`.
    is_half : bool
        Whether the samples are half a period, the other half of which is its negative.

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
    shape, samples = radial.shape[:-1], radial.shape[-1]
    first = np.ascontiguousarray(radial).reshape(-1, samples)
    second = np.ascontiguousarray(tangential).reshape(-1, samples)
    d = derivative_matrix(samples, is_half)
    fit = lamination.loss
    hysteresis, square, power = _cell_sums(
        first, second, first @ d, second @ d, fit.alpha, fit.beta, MINOR_LOOPS, is_half
    )
    mass = masses * lamination.build_factor
    return (
        np.asarray(fit.hysteresis * (hysteresis.reshape(shape) @ mass)),
        np.asarray(2.0 * fit.classical * (square.reshape(shape) @ mass)),
        np.asarray(fit.excess / SINE_EXCESS * (power.reshape(shape) @ mass)),
    )


@numba.njit(cache=True, error_model="numpy")
def _swing_and_reversals(wave: Array, is_half: bool) -> tuple[float, float]:
    """Return half the swing of a closed waveform [T] and the sum of its minor reversals [T].

    The way of a period is four swings and twice every minor reversal.
    """
    n = wave.shape[0]
    low, high, way = wave[0], wave[0], 0.0
    last = -wave[n - 1] if is_half else wave[n - 1]
    for k in range(n):
        value = wave[k]
        low, high = min(low, value), max(high, value)
        way += abs(value - last)
        last = value
    if is_half:
        return max(high, -low), max(way - 2.0 * max(high, -low), 0.0)
    swing = 0.5 * (high - low)
    return swing, max(0.5 * way - 2.0 * swing, 0.0)


@numba.njit(cache=True, error_model="numpy")
def _cell_sums(
    first: Array, second: Array, first_slope: Array, second_slope: Array,
    alpha: float, beta: float, minor: float, is_half: bool,
) -> tuple[Array, Array, Array]:  # fmt: skip
    """Return each cell's hysteresis term and its means of |dB/d theta|^2 and ^1.5."""
    cells, samples = first.shape
    hysteresis, square, power = np.empty(cells), np.empty(cells), np.empty(cells)
    for c in range(cells):
        two, one_and_half = 0.0, 0.0
        for k in range(samples):
            s = first_slope[c, k] ** 2 + second_slope[c, k] ** 2
            size = np.sqrt(s)
            two += s
            one_and_half += size * np.sqrt(size)
        square[c], power[c] = two / samples, one_and_half / samples
        total = 0.0
        for component in range(2):
            wave = first[c] if component == 0 else second[c]
            swing, reversals = _swing_and_reversals(wave, is_half)
            if swing > 0.0:
                total += swing ** (alpha + beta * swing) * (1.0 + minor * reversals / swing)
        hysteresis[c] = total
    return hysteresis, square, power
