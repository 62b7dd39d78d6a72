"""Against rotor position: torque ripple, cogging, open-circuit EMF; torque in its parts."""

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from models.errors import InvalidInputError
from models.field.factor import Factor
from models.field.machine_field import FieldModel
from models.field.march import averaging_positions, solve_positions
from models.field.solve import FINE_TOLERANCE, at_angle, responses

Array = NDArray[np.float64]

POSITIONS = 16
"""Rotor positions over 60 electrical degrees of a torque wave."""


@dataclass(frozen=True, eq=False)
class TorqueWave:
    """Torque of one operating point over 60 electrical degrees (its period).

    Attributes
    ----------
    rotor_angle : ndarray, shape (n,)
        Electrical angle of the d axis from the phase-1 axis [rad].
    torque : ndarray, shape (n,)
        Air-gap torque from the annulus energy [N*m].
    psi_d, psi_q : ndarray, shape (n,)
        Flux linkages, stack only [Wb].
    mean, ripple : float
        Mean and peak-to-peak of `torque` [N*m].
    mean_by_linkages : float
        Mean torque 1.5 p (psi_d i_q - psi_q i_d) [N*m]: an independent way to `mean`.
    phase_1 : ndarray, shape (6 n,)
        Flux linkage of phase 1 over a whole period [Wb].
    potential : ndarray, shape (n, size + 1)
        The fields.
    """

    rotor_angle: Array
    torque: Array
    psi_d: Array
    psi_q: Array
    mean: float
    ripple: float
    mean_by_linkages: float
    phase_1: Array
    potential: Array

    @property
    def torque_difference(self) -> float:
        """Relative difference of the two mean torques: a self-check of the solution."""
        scale = max(abs(self.mean), abs(self.mean_by_linkages))
        return abs(self.mean - self.mean_by_linkages) / scale if scale > 0.0 else 0.0

    @property
    def torque_harmonics(self) -> NDArray[np.complex128]:
        """Complex amplitudes of the torque by order 0, 6, 12 ... of electrical frequency [N*m].

        T = Re sum c_k exp(6 i k theta) with the rotor angle theta counted from the first.
        """
        n = len(self.torque)
        out = 2.0 / n * np.fft.rfft(self.torque)
        out[0] *= 0.5
        if n % 2 == 0:
            out[-1] *= 0.5
        return np.asarray(out)

    @property
    def linkage_harmonics(self) -> Array:
        """Amplitudes of the phase linkage by harmonic order, from order 0 [Wb].

        Times order and electrical speed they are the EMF harmonics.
        """
        n = len(self.phase_1)
        out: Array = 2.0 / n * np.abs(np.fft.rfft(self.phase_1))
        return out


def torque_wave(
    model: FieldModel,
    *,
    i_d: float,
    i_q: float,
    remanence: float,
    positions: int = POSITIONS,
    factor: Factor | None = None,
) -> TorqueWave:
    """Return torque and linkages over rotor position (cogging and open circuit at no current).

    Parameters
    ----------
    model : FieldModel
        Equations.
    i_d, i_q : float
        Currents [A].
    remanence : float
        [T].
    positions : int
        Positions over 60 electrical degrees, at least 4.
    factor : Factor, optional
        Kept between calls.

    Returns
    -------
    TorqueWave
    """
    if positions < 4:
        raise InvalidInputError(f"a torque wave needs at least 4 positions, not {positions}")
    angles = pi / 3.0 * np.arange(positions) / positions
    solutions = solve_positions(
        model,
        i_d=i_d,
        i_q=i_q,
        rotor_angles=angles,
        remanence=remanence,
        factor=factor,
        tolerance=FINE_TOLERANCE,
    )
    potential = np.array([s.potential for s in solutions])
    torque = np.array([model.torque(a, t) for a, t in zip(potential, angles.tolist())])
    psi = np.array([model.linkages(a, t) for a, t in zip(potential, angles.tolist())])
    by_linkages = 1.5 * model.pole_pairs * (psi[:, 0] * i_q - psi[:, 1] * i_d)
    # one belt later phase 1 sees minus what phase 2 sees now, two belts later what phase 3 sees
    length = model.sector.repeats * model.stack_length
    one, two, three = length * (potential @ model.phase_source.T).T
    half = np.concatenate((one, -two, three))
    return TorqueWave(
        rotor_angle=angles,
        torque=torque,
        psi_d=psi[:, 0],
        psi_q=psi[:, 1],
        mean=float(torque.mean()),
        ripple=float(np.ptp(torque)),
        mean_by_linkages=float(by_linkages.mean()),
        phase_1=np.concatenate((half, -half)),
        potential=potential,
    )


@dataclass(frozen=True, eq=False)
class TorqueSplit:
    """Torque over current angle at one current amplitude.

    Attributes
    ----------
    angle : ndarray, shape (n,)
        Current angle from the q axis towards negative d [rad].
    total, magnet, reluctance : ndarray, shape (n,)
        Mean air-gap torque and its parts [N*m]; the parts sum to the total.
    """

    angle: Array
    total: Array
    magnet: Array
    reluctance: Array


def torque_parts(
    model: FieldModel,
    *,
    i_d: float,
    i_q: float,
    remanence: float,
    factor: Factor | None = None,
) -> tuple[float, float]:
    """Return total and magnet mean torque [N*m] by frozen permeability.

    Parameters
    ----------
    model : FieldModel
        Equations.
    i_d, i_q : float
        Currents [A].
    remanence : float
        [T].
    factor : Factor, optional
        Kept between calls.

    Notes
    -----
    The reluctivity of every integration point is frozen at its loaded value (secant); the linear
    field of the magnets alone then gives their linkages and torque
    1.5 p (psi_d i_q - psi_q i_d). Both parts use the linkages, so they are consistent.
    """
    system = model.system
    factor = factor or Factor(system.columns, system.rows, system.plan)
    angles = averaging_positions(model.sector.passings)
    solutions = solve_positions(
        model, i_d=i_d, i_q=i_q, rotor_angles=angles, remanence=remanence, factor=factor
    )
    loaded = np.array([s.potential for s in solutions])
    alone = responses(
        system,
        [at_angle(system, model.mechanical_angle(t)) for t in angles.tolist()],
        loaded,
        [model.source(0.0, 0.0, t, remanence) for t in angles.tolist()],
        factor=factor,
        is_secant=True,
    )
    total, magnet = (
        1.5 * model.pole_pairs * float(np.mean(
            [d * i_q - q * i_d for d, q in map(model.linkages, fields, angles.tolist())]
        ))
        for fields in (loaded, alone)
    )  # fmt: skip
    return total, magnet


def torque_split(
    model: FieldModel,
    *,
    current_peak: float,
    remanence: float,
    points: int = 19,
) -> TorqueSplit:
    """Return torque against current angle from 0 to 90 degrees in its parts, see `torque_parts`."""
    angle = np.linspace(0.0, 0.5 * pi, points)
    system = model.system
    factor = Factor(system.columns, system.rows, system.plan)
    parts = np.array(
        [
            torque_parts(
                model,
                i_d=-current_peak * sin(gamma),
                i_q=current_peak * cos(gamma),
                remanence=remanence,
                factor=factor,
            )
            for gamma in angle
        ]
    )
    total, magnet = parts.T
    return TorqueSplit(angle=angle, total=total, magnet=magnet, reluctance=total - magnet)
