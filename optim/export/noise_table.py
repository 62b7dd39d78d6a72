"""Radial-force orders at load and the ring modes they may meet, for noise and vibration people."""

from math import pi

import numpy as np

from models.mechanical.ring_modes import stator_frequency
from models.mechanical.shaft import critical_speed
from models.performance.noise import gap_pressure
from models.performance.summary import Performance
from optim.export.drive_tables import RPM
from optim.export.table import Table, column

WAVES = 12
"""Waves listed, the largest first."""
CIRCUIT_TIME = 4
"""Highest time order that the few positions of the circuit model tell apart."""


def _mode(performance: Performance, order: int) -> float:
    """Return the frequency [Hz] of what a wave excites: a ring mode, or for order 1 the rotor."""
    if order == 1:
        return critical_speed(performance.machine, performance.masses) / (2.0 * pi)
    return stator_frequency(performance.machine, performance.masses, order)


def force_order_table(performance: Performance) -> Table | None:
    """Return the dominant waves of radial pressure at peak torque.

    Returns
    -------
    Table or None
        None where the magnetic model does not know the gap's pressure.
    """
    machine, table = performance.machine, performance.drive.table
    pressure = gap_pressure(
        machine, performance.model,
        i_d=float(table.mtpa[1, -1]), i_q=float(table.mtpa[2, -1]),
        magnet_temperature=performance.duty.temperatures.magnet_rated,
    )  # fmt: skip
    if pressure is None:
        return None
    is_circuit = performance.model.name == "circuit"
    waves = [
        wave
        for wave in pressure.dominant(pressure.amplitude.size)
        if not is_circuit or abs(wave[1]) <= CIRCUIT_TIME
    ][:WAVES]
    space, time = (np.array([float(w[k]) for w in waves]) for k in (0, 1))
    mode = np.array([_mode(performance, int(r)) for r in space])
    # |k| f = f_mode, f = p n: where the wave meets the mode of its own shape.
    speed = 2.0 * pi * mode / (np.abs(time) * machine.pole_pairs)
    return Table(
        name="radial_force_orders",
        title="Largest waves of radial magnetic pressure on the bore at peak torque",
        columns=(
            column("space_order", "-", space, "waves round the bore"),
            column("time_order", "-", time, "times electrical frequency, < 0 against the rotor"),
            column("rotation_order", "-", np.abs(time) * machine.pole_pairs, "times a turn"),
            column("pressure", "kPa", [1e-3 * w[2] for w in waves], "peak"),
            column("mode_frequency", "Hz", mode,
                   "stator core in that shape, frame left out; order 1: rotor on its bearings"),
            column("meeting_speed", "rpm", speed * RPM, "wave and mode have one frequency"),
        ),
        notes=(
            "radial flux density squared over 2 mu0, sine currents, one slice of the rotor",
            "modes are those of a ring that bends and shears; teeth and winding are mass only",
            *(("circuit model: time orders above 4 are left out, they are folded into each other "
               "by its few rotor positions; verify by the field model",) if is_circuit else ()),
        ),
    )  # fmt: skip
