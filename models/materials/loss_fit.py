"""Iron-loss coefficients of a sheet from its maker's table or from its loss class."""

from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from models.errors import InvalidInputError
from models.materials.catalogue import LossFit

Array = NDArray[np.float64]

CLASS_FLUX_DENSITY = 1.5
"""Peak flux density of the loss class in grade names, EN 10106 [T]."""

CLASS_FREQUENCY = 50.0
"""Frequency of the loss class, EN 10106 [Hz]."""


def classical_coefficient(thickness: float, resistivity: float, *, density: float) -> float:
    """Return the classical eddy-loss coefficient of a sheet [W/kg/Hz^2/T^2].

    Parameters
    ----------
    thickness : float
        Sheet thickness d [m].
    resistivity : float
        Electrical resistivity rho [ohm m].
    density : float
        Density gamma [kg/m^3].

    Notes
    -----
    k_cl = pi^2 d^2 / (6 rho gamma), sinusoidal flux density, no skin effect (d well below
    the skin depth) [1]_.

    References
    ----------
    .. [1] G. Bertotti, Hysteresis in Magnetism, Academic Press 1998, ch. 12 (from memory).
    """
    return pi**2 * thickness**2 / (6.0 * resistivity * density)


def specific_loss(fit: LossFit, flux_density: Array, *, frequency: Array) -> Array:
    """Return specific loss [W/kg] under sinusoidal flux, without build factor.

    Parameters
    ----------
    fit : LossFit
        Coefficients; their equation stands there.
    flux_density : ndarray
        Peak flux density [T], >= 0.
    frequency : ndarray
        Frequency [Hz], >= 0; shapes broadcast.
    """
    b = np.asarray(flux_density, dtype=float)
    f = np.asarray(frequency, dtype=float)
    hysteresis = fit.hysteresis * f * b ** (fit.alpha + fit.beta * b)
    total: Array = hysteresis + fit.classical * (f * b) ** 2 + fit.excess * (f * b) ** 1.5
    return total


def fit_loss_table(
    flux_density: Array, *, frequency: Array, loss: Array, classical: float, source: str
) -> LossFit:
    """Return the loss coefficients that fit a maker's table best in relative error.

    Parameters
    ----------
    flux_density, frequency, loss : ndarray, shape (n,)
        Peak flux density [T], frequency [Hz] and specific total loss [W/kg], all positive, at
        least two frequencies and three flux densities.
    classical : float
        Classical coefficient, held fixed [W/kg/Hz^2/T^2].
    source : str
        Where the table comes from.

    Returns
    -------
    LossFit
        With `fit_error` the largest relative error over the points given.

    Raises
    ------
    InvalidInputError
        Too few points or a value that is not positive.

    Notes
    -----
    Hysteresis and excess coefficients are linear for given exponents, so only the two exponents
    are searched (variable projection): the result does not depend on a start value of the
    coefficients and is the same on every run.
    """
    b, f, p = (np.asarray(v, dtype=float) for v in (flux_density, frequency, loss))
    if b.shape != f.shape or b.shape != p.shape or b.ndim != 1:
        raise InvalidInputError("loss table: flux density, frequency and loss must be columns")
    if np.unique(f).size < 2 or np.unique(b).size < 3:
        raise InvalidInputError(
            f"loss table: {np.unique(f).size} frequencies and {np.unique(b).size} flux "
            "densities; needed are at least 2 and 3 to tell the three parts apart"
        )
    if not np.all((b > 0) & (f > 0) & (p > 0)):
        row = int(np.argmin((b > 0) & (f > 0) & (p > 0))) + 1
        raise InvalidInputError(f"loss table: row {row} has a value that is not positive")
    rest = 1.0 - classical * (f * b) ** 2 / p

    def linear_part(exponents: Array) -> tuple[Array, Array]:
        columns = np.column_stack(
            (f * b ** (exponents[0] + exponents[1] * b) / p, (f * b) ** 1.5 / p)
        )
        coefficients = np.linalg.lstsq(columns, rest, rcond=None)[0]
        return coefficients, columns @ coefficients - rest

    found = least_squares(lambda e: linear_part(e)[1], np.array([1.7, 0.2]), xtol=1e-12, ftol=1e-12)
    (hysteresis, excess), error = linear_part(found.x)
    if hysteresis <= 0.0 or excess < 0.0:
        raise InvalidInputError(
            f"loss table: fit gives hysteresis {hysteresis:.3g} and excess {excess:.3g}; the "
            "classical coefficient or the table is wrong (check thickness, resistivity, units)"
        )
    return LossFit(
        hysteresis=float(hysteresis),
        alpha=float(found.x[0]),
        beta=float(found.x[1]),
        classical=classical,
        excess=float(excess),
        fit_error=float(np.max(np.abs(error))),
        source=source,
    )


def fit_loss_class(
    guaranteed: float,
    *,
    classical: float,
    resistivity: float,
    density: float,
    reference: LossFit,
    reference_resistivity: float,
    reference_density: float,
    uncertainty: float,
    source: str,
) -> LossFit:
    """Return loss coefficients of a grade of which only the loss class is known.

    Parameters
    ----------
    guaranteed : float
        Largest specific total loss at 1.5 T, 50 Hz [W/kg]: the fit meets it exactly.
    classical : float
        Classical coefficient of the grade [W/kg/Hz^2/T^2].
    resistivity, density : float
        Of the grade [ohm m], [kg/m^3].
    reference : LossFit
        Fit of a grade with a full table: gives the hysteresis exponents and the excess loss.
    reference_resistivity, reference_density : float
        Of the reference grade.
    uncertainty : float
        Relative error to state in `fit_error`.
    source : str
        Where the class comes from.

    Raises
    ------
    InvalidInputError
        If eddy losses alone exceed the class.

    Notes
    -----
    Excess loss per kilogram goes as sqrt(conductivity) / density for an equal domain structure
    (Bertotti 1998, from memory); what remains of the class at 1.5 T, 50 Hz is hysteresis. An
    equal domain structure is an assumption: the split is not measured.
    """
    excess = (
        reference.excess
        * (reference_resistivity / resistivity) ** 0.5
        * (reference_density / density)
    )
    b, f = CLASS_FLUX_DENSITY, CLASS_FREQUENCY
    remaining = guaranteed - classical * (f * b) ** 2 - excess * (f * b) ** 1.5
    if remaining <= 0.0:
        raise InvalidInputError(
            f"loss class {guaranteed:g} W/kg: eddy losses alone are {guaranteed - remaining:.3g} "
            "W/kg at 1.5 T, 50 Hz; check thickness and resistivity"
        )
    return LossFit(
        hysteresis=remaining / (f * b ** (reference.alpha + reference.beta * b)),
        alpha=reference.alpha,
        beta=reference.beta,
        classical=classical,
        excess=excess,
        fit_error=uncertainty,
        source=source,
    )
