"""A cage machine as field equations: bars with given currents, or as solid conductors.

Two views of one mesh. In rotor-flux axes nothing moves but the rotor against the stator: bars
carry the current that keeps the q linkage of the rotor at zero, and the static solver with the
sheet's own curve gives saturated linkages. At slip frequency the bars are solid conductors and
iron has an effective permeability: skin effect, bar and ring loss, torque.
"""

from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from models.cage_rotor import CageRotor
from models.errors import InfeasibleDesignError
from models.field.assemble import System, assemble
from models.field.domain import mesh_section
from models.field.families import ROTOR_MEDIA
from models.field.harmonic import (
    HarmonicSystem,
    Rings,
    eddy_loss,
    harmonic_system,
    mean_torque,
    ring_loss,
    solve_harmonic,
)
from models.field.machine_field import phase_values, slot_vectors
from models.field.media import AIR, Medium
from models.field.sizing import Resolution
from models.geometry.cage import bar_pitch_regions
from models.geometry.section import Region, Section
from models.geometry.stator import slot_pitch_regions
from models.geometry.winding import phase_axis
from models.induction.leakage import bar_current_ratio, ring_inductance, ring_resistance
from models.machine import Machine, rotor_as
from models.materials.reluctivity import stacked

Array = NDArray[np.float64]


def covered_poles(machine: Machine) -> int:
    """Return over how many poles the field is solved: one, or two where numbers are not whole.

    Raises
    ------
    InfeasibleDesignError
        `bars_per_pole_pair_not_whole`: bars or slots do not even fill a pole pair.
    """
    rotor = rotor_as(machine, CageRotor)
    count = 2 * machine.pole_pairs
    for poles in (1, 2):
        if all(poles * n % count == 0 for n in (rotor.bars, machine.stator.slots)):
            return poles
    raise InfeasibleDesignError(
        "bars_per_pole_pair_not_whole",
        f"{rotor.bars} bars and {machine.stator.slots} slots over {machine.pole_pairs} pole pairs: "
        "the field model needs whole numbers of both per pole pair; use the circuit model, or "
        "another number of bars",
    )


def cage_section(machine: Machine, poles: int) -> Section:
    """Return the section over one or two poles, symmetric about the x axis."""
    rotor, stator = rotor_as(machine, CageRotor), machine.stator
    half = poles * pi / (2 * machine.pole_pairs)
    grade = machine.lamination.name

    def over(count: int, pitch: float) -> list[float]:
        return [-half + (k + 0.5) * pitch for k in range(count)]

    per = 2 * machine.pole_pairs
    bars: list[Region] = []
    for k, angle in enumerate(over(poles * rotor.bars // per, rotor.slot_pitch)):
        bars += bar_pitch_regions(rotor, angle=angle, index=k, grade=grade)
    slots: list[Region] = []
    for k, angle in enumerate(over(poles * stator.slots // per, stator.slot_pitch)):
        slots += slot_pitch_regions(stator, angle=angle, index=k, grade=grade)
    return Section(
        tuple(bars), tuple(slots), machine.pole_pairs, rotor.outer_radius, stator.bore_radius
    )


@dataclass(frozen=True, eq=False)
class CageField:
    """Field equations of a cage machine.

    Attributes
    ----------
    machine : Machine
    system : System
        Static equations over `poles` poles.
    poles : int
        One or two.
    phase_source : ndarray, shape (3, size + 1)
        Right-hand side per ampere of phase current.
    bar_source : ndarray, shape (bars, size + 1)
        Right-hand side per ampere of each bar: the mean over its section.
    bar_angles : ndarray, shape (bars,)
        Electrical angle of each bar from the rotor's x axis [rad].
    axis : float
        Electrical angle of the phase-1 axis in the section's axes [rad].
    """

    machine: Machine
    system: System
    poles: int
    phase_source: Array
    bar_source: Array
    bar_angles: Array
    axis: float

    @property
    def sections(self) -> float:
        """Sections in the machine."""
        return 2 * self.machine.pole_pairs / self.poles

    def mechanical_angle(self, rotor_angle: float) -> float:
        """Return the rotor's mechanical angle [rad] at an electrical one from phase 1's axis."""
        return (self.axis + rotor_angle) / self.machine.pole_pairs

    @property
    def bar_ratio(self) -> float:
        """Bar current over referred rotor current, without skew."""
        w = self.machine.winding
        return bar_current_ratio(
            rotor_as(self.machine, CageRotor).bars,
            effective_turns=w.series_turns * w.winding_factor,
        )

    def rotor_source(self, d: float, q: float) -> Array:
        """Return the right-hand side of referred rotor currents, d on the rotor's x axis [A].

        A wave of current along an axis has its bars 90 degrees ahead of it: sin for d, -cos for q.
        """
        currents = d * np.sin(self.bar_angles) - q * np.cos(self.bar_angles)
        out: Array = self.bar_ratio * currents @ self.bar_source
        return out

    def rotor_linkages(self, potential: Array) -> tuple[float, float]:
        """Return the referred linkages d and q of the bars, rings left out [Wb]."""
        scale = self.bar_ratio / 1.5 * self.sections * self.machine.stack_length
        bars = self.bar_source @ potential
        return (
            float(scale * np.sin(self.bar_angles) @ bars),
            float(-scale * np.cos(self.bar_angles) @ bars),
        )

    def stator_source(self, d: float, q: float, rotor_angle: float) -> Array:
        """Return the right-hand side of stator currents in the rotor's axes [A]."""
        out: Array = phase_values(d, q, rotor_angle) @ self.phase_source
        return out

    def phase_linkages(self, potential: Array) -> Array:
        """Return the three phases' linkages, stack only [Wb]."""
        out: Array = self.sections * self.machine.stack_length * (self.phase_source @ potential)
        return out

    def torque(self, potential: Array, rotor_angle: float) -> float:
        """Return air-gap torque on the rotor [N*m]."""
        s = self.system
        per_length = s.gap.torque(
            potential[s.gap_rotor], potential[s.gap_stator], self.mechanical_angle(rotor_angle)
        )
        return self.sections * self.machine.stack_length * per_length

    def harmonic(self, temperature: float) -> HarmonicSystem:
        """Return the equations at slip frequency, the cage at a temperature [degC]."""
        rotor = rotor_as(self.machine, CageRotor)
        sigma = 1.0 / rotor.material.resistivity(temperature)
        return harmonic_system(
            self.system,
            lambda r: sigma if r.part == "bar" else 0.0,
            rings=Rings(
                ring_resistance(rotor, temperature),
                ring_inductance(rotor),
                self.machine.stack_length,
            ),
            poles=self.poles,
        )


def cage_field(
    machine: Machine, *, resolution: Resolution | None = None, poles: int | None = None
) -> CageField:
    """Build the field equations of a cage machine.

    Parameters
    ----------
    machine : Machine
        With a `CageRotor`; skew is left out (two-dimensional).
    resolution : Resolution, optional
        Mesh resolution.
    poles : int, optional
        Poles to cover; the fewest that serve if not given.

    Raises
    ------
    InfeasibleDesignError
        `bars_per_pole_pair_not_whole`, or the section cannot be meshed.
    """
    poles = covered_poles(machine) if poles is None else poles
    section = cage_section(machine, poles)
    iron = Medium(stacked(machine.lamination.magnetisation, machine.stacking_factor))
    media = {"stator_core": iron, **ROTOR_MEDIA["cage"](machine, iron, 0.0)}
    system = assemble(
        mesh_section(section, resolution, poles=poles), lambda r: media.get(r.part, AIR)
    )
    w, p = machine.winding, machine.pole_pairs
    per_section = poles * w.slots // (2 * p)
    shares = np.array(w.slot_phases)[:, :per_section]
    half = poles * pi / (2 * p)
    first = p * (-half + 0.5 * machine.stator.slot_pitch)
    bars = sum(r.part == "bar" for r in section.rotor)
    return CageField(
        machine=machine,
        system=system,
        poles=poles,
        phase_source=w.conductors_per_slot
        / w.parallel_paths
        * shares
        @ slot_vectors(system, per_section),
        bar_source=slot_vectors(system, bars, part="bar"),
        bar_angles=p * (-half + (np.arange(bars) + 0.5) * 2.0 * half / bars),
        axis=phase_axis(w.slot_phases, p) + first,
    )


@dataclass(frozen=True)
class SlipPoint:
    """A point at slip frequency.

    Attributes
    ----------
    psi_d, psi_q : float
        Stator linkages along and 90 degrees ahead of the stator current [Wb], stack only.
    torque, bar_loss, ring_loss : float
        [N*m], [W].
    steps : int
        Steps of the effective permeability.
    """

    psi_d: float
    psi_q: float
    torque: float
    bar_loss: float
    ring_loss: float
    steps: int


def solve_at_slip(
    field: CageField,
    current: float,
    slip_frequency: float,
    *,
    temperature: float,
    rotor_angle: float = 0.0,
) -> SlipPoint:
    """Solve a stator current of constant amplitude at a slip frequency.

    Parameters
    ----------
    field : CageField
    current : float
        Amplitude of the phase current [A].
    slip_frequency : float
        Angular [rad/s].
    temperature : float
        Of the cage [degC].
    rotor_angle : float
        Electrical angle of the rotor's axis from that of phase 1 [rad].
    """
    equations = field.harmonic(temperature)
    # phase k lags by 120 degrees and lies 120 degrees further on: a wave towards rising angle
    turn = np.exp(-2j * pi / 3.0 * np.arange(3))
    angle = field.mechanical_angle(rotor_angle)
    source = current * turn @ field.phase_source
    solution = solve_harmonic(equations, angle=angle, frequency=slip_frequency, source=source)
    linkages = field.phase_linkages(solution.potential.real) + 1j * field.phase_linkages(
        solution.potential.imag
    )
    vector = complex(linkages @ np.conj(turn)) / 3.0
    length = field.sections * field.machine.stack_length
    return SlipPoint(
        psi_d=vector.real,
        psi_q=vector.imag,
        torque=length * mean_torque(equations, solution, angle),
        bar_loss=length * eddy_loss(equations, solution, ("bar",)),
        ring_loss=field.sections * ring_loss(equations, solution),
        steps=solution.steps,
    )
