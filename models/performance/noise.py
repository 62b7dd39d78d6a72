"""What makes noise: radial-force waves, ring modes and, by the field model, torque ripple."""

from math import pi
from typing import Protocol, cast

import numpy as np

from models.field.waves import TorqueWave
from models.geometry.sector import sector_of
from models.machine import Machine
from models.magnetics import MagneticModel
from models.mechanical.mass import Masses
from models.mechanical.ring_modes import stator_frequency
from models.nomenclature import METRICS
from models.radial_pressure import RadialPressure
from models.skew import skew_factor, slice_angles, turned


class PressureModel(Protocol):
    """A magnetic model that knows the radial pressure in the gap."""

    def radial_pressure(
        self, *, i_d: float, i_q: float, magnet_temperature: float
    ) -> RadialPressure:
        """Return the waves of radial pressure at currents [A] and a magnet temperature [degC]."""
        ...


class WaveModel(Protocol):
    """A magnetic model that follows torque over rotor position."""

    def torque_wave(self, *, i_d: float, i_q: float, magnet_temperature: float) -> TorqueWave:
        """Return torque over 60 electrical degrees."""
        ...

    def pressure_of(self, wave: TorqueWave) -> RadialPressure:
        """Return the radial pressure that goes with a torque wave."""
        ...


def noise_metrics(
    machine: Machine, masses: Masses, model: MagneticModel, *, i_d: float, i_q: float,
    magnet_temperature: float,
) -> dict[str, float]:  # fmt: skip
    """Return ring modes and the excitation at one operating point.

    Parameters
    ----------
    machine, masses, model : objects
        The machine, its masses and a magnetic model of it.
    i_d, i_q : float
        Currents of peak torque [A].
    magnet_temperature : float
        [degC].

    Returns
    -------
    dict
        `breathing_frequency`, `pole_order_frequency` and `pole_order_speed` always, and
        `lowest_force_order` of synchronous rotors; `radial_pressure` and `unbalanced_pull` where
        the model knows the gap; torque ripple, cogging torque and
        `breathing_pressure` from a model that follows the torque over position.
    """
    sector = sector_of(machine)
    breathing = stator_frequency(machine, masses, 0)
    bending = stator_frequency(machine, masses, sector.bending_order)
    out = {
        "breathing_frequency": breathing,
        "pole_order_frequency": bending,
        # Twice electrical frequency: as the wave of order 2 p passes a point 2 p times a turn.
        "pole_order_speed": 2.0 * pi * bending / (2.0 * machine.pole_pairs),
    }
    if _is_known("lowest_force_order", machine.family):
        out["lowest_force_order"] = float(sector.lowest_force_order)
    at = {"i_d": i_d, "i_q": i_q, "magnet_temperature": magnet_temperature}
    # Asked by name: a check against a protocol costs as much as the rest of this function.
    if hasattr(model, "torque_wave"):
        followed = cast(WaveModel, model)
        wave = followed.torque_wave(**at)
        pressure = followed.pressure_of(wave)
        still = followed.torque_wave(i_d=0.0, i_q=0.0, magnet_temperature=magnet_temperature)
        out |= _ripple(machine, followed, wave, still, at)
        out["breathing_pressure"] = pressure.breathing
        if _is_known("radial_pressure", machine.family):
            out |= _pressures(machine, pressure)
    elif (known := gap_pressure(machine, model, **at)) is not None:
        out |= _pressures(machine, known)
    return out


def _pressures(machine: Machine, pressure: RadialPressure) -> dict[str, float]:
    """Return the wave that bends the stator, and the force on the rotor of one of order 1.

    p cos(theta - phi) round a bore of radius r and length L pulls with pi r L p.
    """
    area = pi * machine.stator.bore_radius * machine.stack_length
    return {
        "radial_pressure": pressure.at_bending_order,
        "unbalanced_pull": area * pressure.of_order_one,
    }


def gap_pressure(
    machine: Machine, model: MagneticModel, *, i_d: float, i_q: float, magnet_temperature: float
) -> RadialPressure | None:
    """Return the radial pressure at one point, None where model or family does not know it."""
    if not hasattr(model, "radial_pressure") or not _is_known("radial_pressure", machine.family):
        return None
    return cast(PressureModel, model).radial_pressure(
        i_d=i_d, i_q=i_q, magnet_temperature=magnet_temperature
    )


def _is_known(name: str, family: str) -> bool:
    families = METRICS[name].families
    return not families or family in families


def _ripple(
    machine: Machine, model: WaveModel, wave: TorqueWave, still: TorqueWave, at: dict[str, float]
) -> dict[str, float]:
    """Return torque ripple and cogging of the whole rotor, its slices added at their places."""
    angles = slice_angles(machine)
    loaded, mean = wave.torque_harmonics, wave.mean
    if angles.size > 1:
        loaded, mean = np.zeros_like(loaded), 0.0
        for angle in angles.tolist():
            i_d, i_q = turned(at["i_d"], at["i_q"], angle)
            one = model.torque_wave(i_d=i_d, i_q=i_q, magnet_temperature=at["magnet_temperature"])
            order = 6.0 * np.arange(loaded.size)
            loaded = loaded + one.torque_harmonics * np.exp(1j * order * angle) / angles.size
            mean += one.mean / angles.size
    orders = 6.0 * np.arange(loaded.size)
    idle = still.torque_harmonics * [skew_factor(angles, order) for order in orders]
    return {
        "torque_ripple": _peak_to_peak(loaded) / abs(mean),
        "torque_ripple_6": float(abs(loaded[1])) / abs(mean),
        "torque_ripple_12": float(abs(loaded[2])) / abs(mean),
        "cogging_torque": _peak_to_peak(idle),
    }


def _peak_to_peak(harmonics: np.ndarray) -> float:
    """Return the peak-to-peak value of a wave from its complex amplitudes, mean left out."""
    phase = np.exp(2j * pi * np.outer(np.arange(harmonics.size), np.arange(64)) / 64.0)
    return float(np.ptp((harmonics[1:, None] * phase[1:]).sum(axis=0).real))
