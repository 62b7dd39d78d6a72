"""Field model against a published surface-magnet machine.

8-pole, 24-slot generator: M. V. Ferreira da Luz, P. Dular, N. Sadowski, C. Geuzaine,
J. P. A. Bastos, IEEE Trans. Magn. 38(2) 961-964, 2002. The expected numbers were computed from
its published dimensions with an independent general-purpose finite-element code with linear iron
(relative permeability 1000); they are not the authors' measurements.
"""

from math import pi

import numpy as np
import pytest

from models.constants import MU0
from models.field import Factor, FieldModel, model_of_section, solve_point
from models.field.media import Medium
from tests.field_sections import published_surface_machine

SPEED = 4 * 500.0 * 2.0 * pi / 60.0  # electrical rad/s at 500 rpm


@pytest.fixture(scope="module")
def model() -> FieldModel:
    iron = Medium(1.0 / (1000.0 * MU0))
    belts = np.zeros((3, 24))
    for slot in range(24):
        phase, sign = ((0, 1.0), (2, -1.0), (1, 1.0))[slot % 3]
        belts[phase, slot] = sign * (-1.0) ** (slot // 3)
    return model_of_section(
        published_surface_machine(),
        media={
            "stator_core": iron,
            "rotor_core": iron,
            "magnet": Medium(1.0 / MU0, 1.2, magnetisation_order=1.0),
        },
        slot_phases=belts,
        conductors=104.0,
        stack_length=0.035,
        remanence=1.2,
    )


def test_field_open_circuit_flux_and_emf(model):
    """psi 0.19758 Wb (1.5 %); EMF harmonics 3, 5, 7, 9: 3.68, 4.60, 3.22, 1.74 V (5 %)."""
    count = 60
    factor = Factor(model.system.columns, model.system.rows)
    wave = []
    for k in range(count):
        angle = pi * k / count
        point = solve_point(model, 0.0, 0.0, rotor_angle=angle, factor=factor)
        wave.append(2 * 4 * 0.035 * float(model.phase_source[0] @ point.solution.potential))
    full = np.concatenate((wave, -np.array(wave)))
    harmonics = 2.0 * np.abs(np.fft.rfft(full)) / len(full)
    assert harmonics[1] == pytest.approx(0.19758, rel=0.015)
    emf = [SPEED * n * harmonics[n] for n in (3, 5, 7, 9)]
    np.testing.assert_allclose(emf, [3.68, 4.60, 3.22, 1.74], rtol=0.05)


def test_field_mean_torque(model):
    """4.62 to 4.635 N*m at i_d = 0, i_q = 3.9 A peak (1.5 %); both torque methods agree."""
    count = 24
    torque, cross = [], []
    factor = Factor(model.system.columns, model.system.rows)
    for k in range(count):
        point = solve_point(model, 0.0, 3.9, rotor_angle=pi / 3 * k / count, factor=factor)
        torque.append(point.torque)
        cross.append(1.5 * 4 * point.psi_d * 3.9)
    assert np.mean(torque) == pytest.approx(4.6275, rel=0.015)
    assert np.mean(torque) == pytest.approx(np.mean(cross), rel=0.003)
