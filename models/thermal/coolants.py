"""How heat leaves a machine: water jacket, oil on end windings and in the shaft, ambient air."""

from math import pi

import numpy as np

from models.duty import Cooling
from models.errors import InfeasibleDesignError
from models.machine import Machine
from models.thermal.conductances import in_series, jacket_flow, tube
from models.thermal.fluids import water_glycol
from models.thermal.nodes import AIR, AT, NODES, Boundary
from models.thermal.oil import (
    ANNULUS,
    WETTED_SHARE,
    flow_conductance,
    oil,
    shaft_coefficient,
    spray_coefficient,
)

STILL_AIR = 0.030
"""Conductivity of the air in contact gaps [W/(m K)]."""
FRAME_CONTACT = 10e-6
"""Air gap equal to the shrink fit of frame and core [m] (from memory: Boglietti, Cavagnino,
Staton et al., IEEE Trans. Ind. Electron. 56(3) 871, 2009 give 0.01 to 0.08 mm, the low end for
tight fits)."""
ALUMINIUM = (160.0, 2700.0, 900.0)
"""Cast frame: conductivity [W/(m K)], density [kg/m^3], specific heat [J/(kg K)]."""
FRAME_WALL = 6e-3
"""Wall on each side of the duct, and of the end shields [m] (common practice, no source)."""
DUCT_RIB = 4e-3
"""Rib between turns of the duct helix [m] (common practice, no source)."""
OUTSIDE_COEFFICIENT = 10.0
"""Frame to ambient [W/(m^2 K)] (common practice: natural convection 5 to 10)."""
LEAST_ANNULUS_RATIO = 1.5
"""Bore radius of a cooled shaft over the width of the oil's channel, at least."""


class Assembly:
    """Adds branches to a symmetric conductance matrix."""

    def __init__(self) -> None:
        self.matrix = np.zeros((len(NODES), len(NODES)))
        self.source = np.zeros(len(NODES))
        self.boundaries: list[Boundary] = []

    def join(self, first: str, second: str, conductance: float) -> None:
        """Add a conductance [W/K] between two nodes."""
        i, j = AT[first], AT[second]
        self.matrix[i, i] += conductance
        self.matrix[j, j] += conductance
        self.matrix[i, j] -= conductance
        self.matrix[j, i] -= conductance

    def bound(self, name: str, node: str, temperature: float, conductance: float) -> None:
        """Tie a node to a temperature [degC] by a conductance [W/K]."""
        self.matrix[AT[node], AT[node]] += conductance
        self.source[AT[node]] += conductance * temperature
        self.boundaries.append(Boundary(name, AT[node], temperature, conductance))


def duct_length(machine: Machine, cooling: Cooling) -> float:
    """Return the length of the duct helix over the stack [m]."""
    turns = max(1.0, machine.stack_length / (cooling.duct_width + DUCT_RIB))
    return 2.0 * pi * (machine.stator.outer_radius + FRAME_WALL + 0.5 * cooling.duct_height) * turns


def join_jacket(a: Assembly, machine: Machine, cooling: Cooling) -> None:
    """Join coolant, frame and yoke, and bind the coolant to its inlet.

    The coolant warms by Q / (m c) from inlet to outlet, its mean by half of that. Without a flow
    the node stands for the air in the empty duct: it is as warm as the frame, to nobody's use.
    """
    # Inner wall and both side walls of the duct take part; aluminium ribs are nearly isothermal.
    wetted = (cooling.duct_width + 2.0 * cooling.duct_height) * duct_length(machine, cooling)
    if cooling.coolant_flow > 0.0:
        flow = jacket_flow(cooling)
        a.join("coolant", "frame", flow.coefficient * wetted)
        a.bound("jacket", "coolant", cooling.coolant_temperature, 2.0 * flow.capacity_rate)
    else:
        a.join("coolant", "frame", STILL_AIR / (0.5 * cooling.duct_height) * wetted)
    r_o, length = machine.stator.outer_radius, machine.stack_length * machine.stacking_factor
    mid = 0.5 * (machine.stator.slot_bottom_radius + r_o)
    contact = STILL_AIR / FRAME_CONTACT * 2.0 * pi * r_o * machine.stack_length
    wall = tube(ALUMINIUM[0], inner=r_o, outer=r_o + FRAME_WALL, length=machine.stack_length)
    yoke = tube(machine.lamination.thermal_conductivity, inner=mid, outer=r_o, length=length)
    a.join("frame", "yoke", in_series(contact, wall, yoke))


def jacket_pressure_drop(machine: Machine, cooling: Cooling) -> float:
    """Return the pressure drop over the straightened duct of the jacket [Pa]; 0 without one.

    Bends of the helix and connections come on top (half as much again or more, from memory).
    """
    if cooling.coolant_flow <= 0.0:
        return 0.0
    return jacket_flow(cooling).pressure_gradient * duct_length(machine, cooling)


def bound_oil(a: Assembly, machine: Machine, cooling: Cooling) -> None:
    """Bind the end winding to the spray and the shaft to the oil in its bore."""
    fluid = oil(cooling.oil_temperature)
    if cooling.spray_flow > 0.0:
        wetted = WETTED_SHARE * end_winding_surface(machine)
        coefficient = spray_coefficient(cooling.spray_flow / wetted, fluid)
        a.bound("spray", "end_winding", cooling.oil_temperature,
                flow_conductance(coefficient, wetted, fluid, cooling.spray_flow))  # fmt: skip
    if cooling.shaft_flow > 0.0:
        bore = float(machine.parameters["shaft_bore_ratio"]) * machine.rotor.shaft_radius
        if bore < LEAST_ANNULUS_RATIO * ANNULUS:
            raise InfeasibleDesignError(
                "shaft_bore_too_small",
                f"shaft: oil is to flow through a bore of {2e3 * bore:.1f} mm diameter; at least "
                f"{2e3 * LEAST_ANNULUS_RATIO * ANNULUS:.1f} mm are needed: raise shaft_bore_ratio "
                "or shaft_ratio, or set shaft_flow to 0",
            )
        coefficient, area = shaft_coefficient(
            fluid, flow=cooling.shaft_flow, bore_radius=bore, length=machine.stack_length
        )
        a.bound("shaft", "shaft", cooling.oil_temperature,
                flow_conductance(coefficient, area, fluid, cooling.shaft_flow))  # fmt: skip


def outside_radius(machine: Machine, cooling: Cooling) -> float:
    """Return the outer radius of the frame [m]."""
    return machine.stator.outer_radius + 2.0 * FRAME_WALL + cooling.duct_height


def ambient_conductance(machine: Machine, cooling: Cooling) -> float:
    """Return the conductance from frame to ambient air [W/K]."""
    radius = outside_radius(machine, cooling)
    length = machine.stack_length + 2.0 * machine.winding.overhang
    return OUTSIDE_COEFFICIENT * 2.0 * pi * radius * (length + radius)


def end_winding_surface(machine: Machine) -> float:
    """Return the surface of both end windings, a barrel inside and outside [m^2]."""
    s = machine.stator
    return 4.0 * pi * machine.winding.overhang * (s.slot_bottom_radius + s.body_inner_radius)


def frame_volume(machine: Machine, cooling: Cooling) -> float:
    """Return the metal of the frame with duct and both end shields [m^3]."""
    s, outside = machine.stator, outside_radius(machine, cooling)
    length = machine.stack_length + 2.0 * machine.winding.overhang
    shell = pi * (outside**2 - s.outer_radius**2) * length - duct_volume(machine, cooling)
    return shell + 2.0 * pi * outside**2 * FRAME_WALL


def duct_volume(machine: Machine, cooling: Cooling) -> float:
    """Return the volume of the jacket's duct [m^3]."""
    return cooling.duct_width * cooling.duct_height * duct_length(machine, cooling)


def duct_capacity(machine: Machine, cooling: Cooling) -> float:
    """Return the heat capacity of what is in the duct, coolant or air [J/K]."""
    fluid = AIR
    if cooling.coolant_flow > 0.0:
        fluid = water_glycol(cooling.coolant_temperature, cooling.glycol_share)
    return duct_volume(machine, cooling) * float(fluid.density) * float(fluid.specific_heat)
