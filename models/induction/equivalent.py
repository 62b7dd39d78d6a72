"""Steady state of an induction machine by its T circuit, per phase, at one frequency."""

from dataclasses import dataclass
from math import hypot, pi

from models.errors import InvalidInputError


@dataclass(frozen=True)
class EquivalentCircuit:
    """T circuit of one phase; rotor quantities referred to the stator.

    Attributes
    ----------
    stator_resistance, rotor_resistance : float
        [ohm].
    stator_reactance, rotor_reactance, magnetising_reactance : float
        Leakage of stator and rotor, and magnetising reactance at `frequency` [ohm].
    pole_pairs : int
        Pole pairs.
    frequency : float
        Stator frequency [Hz].
    core_conductance : float
        Iron loss over squared voltage behind the stator resistance, per phase [S].
    """

    stator_resistance: float
    rotor_resistance: float
    stator_reactance: float
    rotor_reactance: float
    magnetising_reactance: float
    pole_pairs: int
    frequency: float
    core_conductance: float = 0.0

    @property
    def synchronous_speed(self) -> float:
        """Mechanical speed of the field [rad/s]."""
        return 2.0 * pi * self.frequency / self.pole_pairs


@dataclass(frozen=True)
class SteadyState:
    """One steady operating point, three phases.

    Attributes
    ----------
    stator_current, rotor_current : complex
        Phase current against the phase voltage, rms [A]; the rotor's referred.
    input_power, stator_loss, core_loss, gap_power, rotor_loss, converted_power : float
        [W]; the rotor's loss is slip times gap power.
    torque : float
        Air-gap torque [N*m].
    speed : float
        Mechanical speed of the rotor [rad/s].
    """

    stator_current: complex
    rotor_current: complex
    input_power: float
    stator_loss: float
    core_loss: float
    gap_power: float
    rotor_loss: float
    converted_power: float
    torque: float
    speed: float

    @property
    def power_factor(self) -> float:
        """Displacement power factor, positive for power taken from the supply."""
        return self.stator_current.real / abs(self.stator_current)


def steady_state(circuit: EquivalentCircuit, slip: float, voltage: float) -> SteadyState:
    """Return currents, powers and torque at a slip.

    Parameters
    ----------
    circuit : EquivalentCircuit
        Circuit at its frequency.
    slip : float
        (field speed - rotor speed) / field speed; negative when generating.
    voltage : float
        Phase voltage, rms [V], > 0.

    Returns
    -------
    SteadyState

    Raises
    ------
    InvalidInputError
        For a voltage that is not positive.

    References
    ----------
    A. E. Fitzgerald, C. Kingsley, S. D. Umans, *Electric Machinery*, ch. 6 (from memory).
    """
    if not voltage > 0.0:
        raise InvalidInputError(f"induction machine: voltage {voltage} V must be above zero")
    magnetising = 1j * circuit.magnetising_reactance
    # R2 / s + j X2 as an admittance, so that synchronous speed needs no special case
    rotor = slip / (circuit.rotor_resistance + 1j * slip * circuit.rotor_reactance)
    gap = 1.0 / (1.0 / magnetising + rotor)
    inner = 1j * circuit.stator_reactance + gap
    behind = 1.0 / (1.0 / inner + circuit.core_conductance)
    current = voltage / (circuit.stator_resistance + behind)
    behind_voltage = current * behind
    rotor_current = behind_voltage / inner * gap * rotor
    gap_power = (
        3.0 * abs(rotor_current) ** 2 * circuit.rotor_resistance / slip if slip != 0.0 else 0.0
    )
    synchronous = circuit.synchronous_speed
    return SteadyState(
        stator_current=current,
        rotor_current=rotor_current,
        input_power=3.0 * voltage * current.real,
        stator_loss=3.0 * abs(current) ** 2 * circuit.stator_resistance,
        core_loss=3.0 * abs(behind_voltage) ** 2 * circuit.core_conductance,
        gap_power=gap_power,
        rotor_loss=slip * gap_power,
        converted_power=(1.0 - slip) * gap_power,
        torque=gap_power / synchronous,
        speed=(1.0 - slip) * synchronous,
    )


def pull_out(circuit: EquivalentCircuit, voltage: float) -> tuple[float, float]:
    """Return slip and torque of pull-out when motoring at a fixed voltage and frequency.

    Parameters
    ----------
    circuit : EquivalentCircuit
        Circuit; its core conductance is left out of the source seen by the rotor.
    voltage : float
        Phase voltage, rms [V], > 0.

    Returns
    -------
    slip, torque : float
        s = R2 / |R_th + j (X_th + X2)| and the torque there [N*m]: most power goes to R2 / s when
        it matches the source behind it (Thevenin), exact for the T circuit.
    """
    magnetising = 1j * circuit.magnetising_reactance
    stator = circuit.stator_resistance + 1j * circuit.stator_reactance
    thevenin = magnetising * stator / (magnetising + stator)
    slip = circuit.rotor_resistance / hypot(thevenin.real, thevenin.imag + circuit.rotor_reactance)
    return slip, steady_state(circuit, slip, voltage).torque
