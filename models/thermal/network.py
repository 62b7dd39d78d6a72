"""From a machine and its cooling to the thermal network."""

from math import pi

import numpy as np
from numpy.typing import NDArray

from models.duty import Cooling
from models.geometry.stator import tooth_width
from models.losses.copper import winding_shares
from models.losses.mechanical import MEAN_RATIO, SEAT_RATIO
from models.machine import Machine
from models.mechanical.mass import Masses
from models.thermal.conductances import (
    hashin_shtrikman,
    in_series,
    jacket_flow,
    series_conductivity,
    tube,
)
from models.thermal.fluids import water_glycol
from models.thermal.nodes import AIR, AT, NODES, ThermalNetwork, place_losses

__all__ = ["NODES", "ThermalNetwork", "build_network", "place_losses"]

Array = NDArray[np.float64]

STILL_AIR = 0.030
"""Conductivity of the air in contact gaps [W/(m K)]."""
FRAME_CONTACT = 10e-6
"""Air gap equal to the shrink fit of frame and core [m] (from memory: Boglietti, Cavagnino,
Staton et al., IEEE Trans. Ind. Electron. 56(3) 871, 2009 give 0.01 to 0.08 mm, the low end for
tight fits)."""
SHAFT_CONTACT = 20e-6
"""The same for core and shaft [m] (common practice, no source)."""
LINER_CONTACT = 20e-6
"""The same for liner and tooth [m] (common practice, no source)."""
MAGNET_CONTACT = 30e-6
"""The same for each magnet face [m] (common practice, no source)."""
BEARING_CONTACT = 0.3e-3
"""Air gap equal to a bearing [m] (from memory, same review as the frame)."""
INSULATION = 0.20
"""Conductivity of liner, enamel and impregnation [W/(m K)] (common practice, no source)."""
ALUMINIUM = (160.0, 2700.0, 900.0)
"""Cast frame: conductivity [W/(m K)], density [kg/m^3], specific heat [J/(kg K)]."""
SHAFT_STEEL = (45.0, 460.0)
"""Shaft: conductivity [W/(m K)], specific heat [J/(kg K)]."""
FRAME_WALL = 6e-3
"""Wall on each side of the duct, and of the end shields [m] (common practice, no source)."""
DUCT_RIB = 4e-3
"""Rib between turns of the duct helix [m] (common practice, no source)."""
OUTSIDE_COEFFICIENT = 10.0
"""Frame to ambient [W/(m^2 K)] (common practice: natural convection 5 to 10)."""
CORE_SHARE = 1.0 / 3.0
"""Share of the slot winding that the hot-spot node stands for."""


class _Assembly:
    """Adds branches to a symmetric conductance matrix."""

    def __init__(self) -> None:
        self.matrix = np.zeros((len(NODES), len(NODES)))
        self.source = np.zeros(len(NODES))

    def join(self, first: str, second: str, conductance: float) -> None:
        i, j = AT[first], AT[second]
        self.matrix[i, i] += conductance
        self.matrix[j, j] += conductance
        self.matrix[i, j] -= conductance
        self.matrix[j, i] -= conductance

    def bound(self, node: str, temperature: float, conductance: float) -> None:
        self.matrix[AT[node], AT[node]] += conductance
        self.source[AT[node]] += conductance * temperature


def build_network(machine: Machine, cooling: Cooling, masses: Masses) -> ThermalNetwork:
    """Return the thermal network of a machine with a water jacket.

    Parameters
    ----------
    machine : Machine
        The machine.
    cooling : Cooling
        Jacket, coolant and ambient.
    masses : Masses
        Its masses.

    Returns
    -------
    ThermalNetwork

    Notes
    -----
    Lumped nodes at mean temperature; slot heat leaves sideways to the teeth and downwards to the
    yoke. The slot's temperature profile across its width is a parabola (peak rise 1.5 x mean
    rise); a hot-spot node with a third of the winding is tied to the rest so that both the
    steady peak and the steady mean are exact, and a sudden load starts it adiabatically. The
    end-winding node stands for the crown, the hottest place of the bare copper between slots.
    Not in it: oil, radiation, conduction through shaft extension and terminals. Uncalibrated
    networks of this kind miss measured temperatures by 10-20 K (from memory).

    References
    ----------
    P. H. Mellor, D. Roberts, D. R. Turner, IEE Proc. B 138(5) 205, 1991; A. Boglietti et al.,
    IEEE Trans. Ind. Electron. 56(3) 871, 2009 (both from memory).
    """
    a = _Assembly()
    coolant = _join_jacket(a, machine, cooling)
    ambient = _ambient_conductance(machine, cooling)
    a.bound("coolant", cooling.coolant_temperature, coolant)
    a.bound("frame", cooling.ambient_temperature, ambient)
    _join_stator(a, machine)
    _join_winding(a, machine)
    _join_rotor(a, machine)
    s, r = machine.stator, machine.rotor
    gap = _Assembly()
    gap.join("teeth", "rotor_iron", 1.0)
    ends = _Assembly()
    for node, area in _end_areas(machine).items():
        ends.join(node, "end_air", area)
    radius = 0.5 * (s.bore_radius + r.outer_radius)
    slot_share, end_share = winding_shares(machine)
    split = np.zeros(len(NODES))
    split[AT["slot_winding"]] = (1.0 - CORE_SHARE) * slot_share
    split[AT["hot_spot"]] = CORE_SHARE * slot_share
    split[AT["end_winding"]] = end_share
    return ThermalNetwork(
        capacity=_capacities(machine, cooling, masses, split),
        fixed=a.matrix,
        gap_branch=gap.matrix,
        end_branches=ends.matrix,
        source=a.source,
        gap_radius=radius,
        gap_width=machine.air_gap,
        gap_area=2.0 * pi * radius * machine.stack_length,
        gap_solid=in_series(_teeth_to_root(machine), _rotor_outside(machine)),
        rotor_radius=r.outer_radius,
        winding_split=split,
        tooth_share=masses.stator_teeth / masses.stator_sheet,
        resistivity_slope=machine.conductor.resistivity_slope,
        coolant_inlet=cooling.coolant_temperature,
        coolant_conductance=coolant,
        ambient=cooling.ambient_temperature,
        ambient_conductance=ambient,
    )


def _iron_length(machine: Machine) -> float:
    return machine.stack_length * machine.stacking_factor


def _duct_length(machine: Machine, cooling: Cooling) -> float:
    """Length of the duct helix over the stack [m]."""
    turns = max(1.0, machine.stack_length / (cooling.duct_width + DUCT_RIB))
    return 2.0 * pi * (machine.stator.outer_radius + FRAME_WALL + 0.5 * cooling.duct_height) * turns


def _join_jacket(a: _Assembly, machine: Machine, cooling: Cooling) -> float:
    """Join coolant, frame and yoke; return the conductance from mean coolant to its inlet.

    The coolant warms by Q / (m c) from inlet to outlet, its mean by half of that.
    """
    flow = jacket_flow(cooling)
    # Inner wall and both side walls of the duct take part; aluminium ribs are nearly isothermal.
    wetted = (cooling.duct_width + 2.0 * cooling.duct_height) * _duct_length(machine, cooling)
    a.join("coolant", "frame", flow.coefficient * wetted)
    r_o, length = machine.stator.outer_radius, _iron_length(machine)
    mid = 0.5 * (machine.stator.slot_bottom_radius + r_o)
    contact = STILL_AIR / FRAME_CONTACT * 2.0 * pi * r_o * machine.stack_length
    wall = tube(ALUMINIUM[0], inner=r_o, outer=r_o + FRAME_WALL, length=machine.stack_length)
    yoke = tube(machine.lamination.thermal_conductivity, inner=mid, outer=r_o, length=length)
    a.join("frame", "yoke", in_series(contact, wall, yoke))
    return 2.0 * flow.capacity_rate


def _outside_radius(machine: Machine, cooling: Cooling) -> float:
    return machine.stator.outer_radius + 2.0 * FRAME_WALL + cooling.duct_height


def _ambient_conductance(machine: Machine, cooling: Cooling) -> float:
    radius = _outside_radius(machine, cooling)
    length = machine.stack_length + 2.0 * machine.winding.overhang
    return OUTSIDE_COEFFICIENT * 2.0 * pi * radius * (length + radius)


def _teeth_to_root(machine: Machine) -> float:
    """Conductance from the teeth's mean to one end [W/K].

    Heat enters along the whole tooth: the mean lies a third of its length away from the end.
    """
    s = machine.stator
    width = tooth_width(s, 0.5 * (s.body_inner_radius + s.slot_bottom_radius))
    section = s.slots * width * _iron_length(machine)
    return machine.lamination.thermal_conductivity * section / (s.slot_depth / 3.0)


def _join_stator(a: _Assembly, machine: Machine) -> None:
    s = machine.stator
    mid = 0.5 * (s.slot_bottom_radius + s.outer_radius)
    k, length = machine.lamination.thermal_conductivity, _iron_length(machine)
    yoke = tube(k, inner=s.slot_bottom_radius, outer=mid, length=length)
    a.join("yoke", "teeth", in_series(yoke, _teeth_to_root(machine)))


def _join_winding(a: _Assembly, machine: Machine) -> None:
    """Join slot winding to teeth and yoke, its hot spot, and the end winding."""
    s, w, length = machine.stator, machine.winding, machine.stack_length
    metal = machine.conductor.thermal_conductivity
    copper = w.conductors_per_slot * w.conductor_area
    slot_width = 0.5 * (s.slot_width_inner + s.slot_width_outer)
    height = s.body_height
    liner = float(machine.parameters["liner_thickness"])
    if w.is_rectangular:
        # Copper spans the slot; all insulation beside it lies between copper and tooth.
        inside = w.conductor_width
        side_layer = 0.5 * (slot_width - inside)
        across = metal
        share = w.conductors_per_slot * w.conductor_height / (height - 2.0 * liner)
        along = series_conductivity(min(share, 1.0), metal, INSULATION)
    else:
        inside = slot_width - 2.0 * liner
        side_layer = liner
        share = copper / (inside * (height - liner))
        across = along = hashin_shtrikman(min(share, 1.0), metal, INSULATION)
    contact = LINER_CONTACT / STILL_AIR
    # Mean rise over the wall w/(6k); the outer node sits at 3/4 of it, the hot spot at 3/2.
    side = side_layer / INSULATION + contact + 0.75 * inside / (6.0 * across)
    bottom = liner / INSULATION + contact + height / (3.0 * along)
    a.join("slot_winding", "teeth", s.slots * 2.0 * height * length / side)
    a.join("slot_winding", "yoke", s.slots * inside * length / bottom)
    mean_rise = inside / (12.0 * across * height * length) / s.slots
    a.join("slot_winding", "hot_spot", CORE_SHARE / (0.75 * mean_rise))
    # From the slot's mean to the crown of the end turn, both ends of every conductor.
    path = 0.5 * length / 3.0 + 0.5 * w.end_turn_length / 2.0
    a.join("slot_winding", "end_winding", 2.0 * s.slots * copper * metal / path)


def _magnet_radius(machine: Machine) -> float:
    """Mean radius of the magnets' corners: where the rotor-iron node lies [m]."""
    return float(np.mean([np.hypot(x, y) for x, y in machine.rotor.magnet_corners]))


def _rotor_outside(machine: Machine) -> float:
    return tube(
        machine.lamination.thermal_conductivity,
        inner=_magnet_radius(machine),
        outer=machine.rotor.outer_radius,
        length=_iron_length(machine),
    )


def _join_rotor(a: _Assembly, machine: Machine) -> None:
    r, magnet = machine.rotor, machine.magnet
    faces = 2.0 * 4.0 * machine.pole_pairs * r.magnet_width * machine.stack_length
    depth = r.magnet_thickness / (6.0 * magnet.thermal_conductivity) + MAGNET_CONTACT / STILL_AIR
    a.join("magnets", "rotor_iron", faces / depth)
    inside = tube(
        machine.lamination.thermal_conductivity,
        inner=r.shaft_radius,
        outer=_magnet_radius(machine),
        length=_iron_length(machine),
    )
    seat = 2.0 * pi * r.shaft_radius * machine.stack_length * STILL_AIR / SHAFT_CONTACT
    a.join("rotor_iron", "shaft", in_series(inside, seat))
    bore = SEAT_RATIO * 2.0 * r.shaft_radius
    ring = pi * MEAN_RATIO * bore * 0.3 * bore  # width of light-series bearings: 0.3 bore
    bearing = ring * STILL_AIR / BEARING_CONTACT
    reach = 0.25 * machine.stack_length + machine.winding.overhang
    stub = SHAFT_STEEL[0] * pi * (0.5 * bore) ** 2 / reach
    a.join("shaft", "frame", 2.0 * in_series(bearing, stub))


def _end_areas(machine: Machine) -> dict[str, float]:
    """Surfaces in the two end spaces [m^2]."""
    s, r, w = machine.stator, machine.rotor, machine.winding
    barrel = 2.0 * pi * w.overhang
    return {
        "end_winding": 2.0 * barrel * (s.slot_bottom_radius + s.body_inner_radius),
        "frame": 2.0 * (barrel * s.outer_radius + pi * s.outer_radius**2),
        "rotor_iron": 2.0 * pi * (r.outer_radius**2 - r.shaft_radius**2),
    }


def _capacities(machine: Machine, cooling: Cooling, masses: Masses, split: Array) -> Array:
    """Heat capacities; insulation's own is left out (5-10 % of the winding's, on the safe side)."""
    s = machine.stator
    length = machine.stack_length + 2.0 * machine.winding.overhang
    outside = _outside_radius(machine, cooling)
    duct = cooling.duct_width * cooling.duct_height * _duct_length(machine, cooling)
    shell = pi * (outside**2 - s.outer_radius**2) * length - duct
    shields = 2.0 * pi * outside**2 * FRAME_WALL
    fluid = water_glycol(cooling.coolant_temperature, cooling.glycol_share)
    iron = machine.lamination.specific_heat
    winding = masses.conductor * machine.conductor.specific_heat * split
    capacity = {
        "coolant": duct * float(fluid.density) * float(fluid.specific_heat),
        "frame": (shell + shields) * ALUMINIUM[1] * ALUMINIUM[2],
        "yoke": masses.stator_yoke * iron,
        "teeth": masses.stator_teeth * iron,
        "slot_winding": winding[AT["slot_winding"]],
        "hot_spot": winding[AT["hot_spot"]],
        "end_winding": winding[AT["end_winding"]],
        "rotor_iron": masses.rotor_sheet * iron,
        "magnets": masses.magnet * machine.magnet.specific_heat,
        "shaft": masses.shaft * SHAFT_STEEL[1],
        "end_air": 2.0 * pi * s.outer_radius**2 * machine.winding.overhang
        * float(AIR.density) * float(AIR.specific_heat),
    }  # fmt: skip
    return np.array([float(capacity[name]) for name in NODES])
