"""From a machine and its cooling to the thermal network."""

from math import pi

import numpy as np
from numpy.typing import NDArray

from models.cage_rotor import CageRotor
from models.duty import Cooling
from models.geometry.stator import tooth_width
from models.losses.bearings import MEAN_RATIO, SEAT_RATIO
from models.losses.copper import winding_shares
from models.machine import Machine
from models.mechanical.inertia import STEEL_DENSITY
from models.mechanical.mass import Masses
from models.thermal.conductances import (
    hashin_shtrikman,
    in_series,
    series_conductivity,
    tube,
)
from models.thermal.coolants import (
    ALUMINIUM,
    STILL_AIR,
    Assembly,
    ambient_conductance,
    bound_oil,
    duct_capacity,
    end_winding_surface,
    frame_volume,
    join_jacket,
)
from models.thermal.nodes import AIR, AT, NODES, ThermalNetwork, place_losses
from models.thermal.rotor_paths import RotorPaths, rotor_paths

__all__ = ["NODES", "ThermalNetwork", "build_network", "place_losses"]

Array = NDArray[np.float64]

SHAFT_CONTACT = 20e-6
"""The same for core and shaft, and for bearing and end shield [m] (common practice, no
source)."""
LINER_CONTACT = 20e-6
"""The same for liner and tooth [m] (common practice, no source)."""
BEARING_CONTACT = 0.3e-3
"""Air gap equal to a bearing between its rings [m] (from memory, same review as the frame)."""
INSULATION = 0.20
"""Conductivity of liner, enamel and impregnation [W/(m K)] (common practice, no source)."""
SHAFT_STEEL = (45.0, 460.0)
"""Shaft: conductivity [W/(m K)], specific heat [J/(kg K)]."""
CORE_SHARE = 1.0 / 3.0
"""Share of the slot winding that the hot-spot node stands for."""


BEARING_WIDTH = 0.3
"""Width of light-series bearings over their bore (from memory)."""
BEARING_FILL = 0.7
"""Steel in the envelope of a bearing (common practice, no source)."""
LEAST_CAPACITY = 0.2
"""Heat capacity of the magnets' node without magnets: the air in the barriers [J/K]."""


def build_network(machine: Machine, cooling: Cooling, masses: Masses) -> ThermalNetwork:
    """Return the thermal network of a machine with its coolants.

    Parameters
    ----------
    machine : Machine
        The machine.
    cooling : Cooling
        Jacket, oil and ambient.
    masses : Masses
        Its masses.

    Returns
    -------
    ThermalNetwork

    Raises
    ------
    InfeasibleDesignError
        `shaft_bore_too_small`: oil is to flow through a shaft that has no room for it.

    Notes
    -----
    Lumped nodes at mean temperature; slot heat leaves sideways to the teeth and downwards to the
    yoke. With round strands the slot's temperature profile across its width is a parabola (peak
    rise 1.5 x mean rise); a hot-spot node with a third of the winding is tied to the rest so that
    both the steady peak and the steady mean are exact, and a sudden load starts it adiabatically.
    Bars are of one temperature across the slot; there the node is the third of the slot's height
    at the opening, where they lose most, with its own walls and ends. The
    end-winding node stands for the crown, the hottest place of the bare copper between slots.
    Not in it: radiation, conduction through shaft extension and terminals, oil that falls on
    the rotor. Uncalibrated networks of this kind miss measured temperatures by 10-20 K (from
    memory).

    References
    ----------
    P. H. Mellor, D. Roberts, D. R. Turner, IEE Proc. B 138(5) 205, 1991; A. Boglietti et al.,
    IEEE Trans. Ind. Electron. 56(3) 871, 2009 (both from memory).
    """
    a = Assembly()
    join_jacket(a, machine, cooling)
    ambient = ambient_conductance(machine, cooling)
    a.bound("ambient", "frame", cooling.ambient_temperature, ambient)
    _join_stator(a, machine)
    _join_winding(a, machine)
    paths = rotor_paths(machine)
    _join_rotor(a, machine, paths)
    bound_oil(a, machine, cooling)
    s, r = machine.stator, machine.rotor
    gap_teeth, gap_rotor, ends = Assembly(), Assembly(), Assembly()
    gap_teeth.join("teeth", "gap", 1.0)
    gap_rotor.join("gap", paths.gap_node, 1.0)
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
        speed_branches=np.stack([gap_teeth.matrix, gap_rotor.matrix, ends.matrix]),
        source=a.source,
        boundaries=tuple(a.boundaries),
        gap_radius=radius,
        gap_width=machine.air_gap,
        gap_area=2.0 * pi * radius * machine.stack_length,
        gap_solids=(_teeth_to_root(machine), paths.outside),
        rotor_radius=r.outer_radius,
        winding_split=split,
        tooth_share=masses.stator_teeth / masses.stator_sheet,
        resistivity_slope=machine.conductor.resistivity_slope,
    )


def _iron_length(machine: Machine) -> float:
    return machine.stack_length * machine.stacking_factor


def _teeth_to_root(machine: Machine) -> float:
    """Conductance from the teeth's mean to one end [W/K].

    Heat enters along the whole tooth: the mean lies a third of its length away from the end.
    """
    s = machine.stator
    width = tooth_width(s, 0.5 * (s.body_inner_radius + s.slot_bottom_radius))
    section = s.slots * width * _iron_length(machine)
    return machine.lamination.thermal_conductivity * section / (s.slot_depth / 3.0)


def _join_stator(a: Assembly, machine: Machine) -> None:
    s = machine.stator
    mid = 0.5 * (s.slot_bottom_radius + s.outer_radius)
    k, length = machine.lamination.thermal_conductivity, _iron_length(machine)
    yoke = tube(k, inner=s.slot_bottom_radius, outer=mid, length=length)
    a.join("yoke", "teeth", in_series(yoke, _teeth_to_root(machine)))


def _join_winding(a: Assembly, machine: Machine) -> None:
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
    to_teeth = s.slots * 2.0 * height * length / side
    a.join("slot_winding", "yoke", s.slots * inside * length / bottom)
    # From the slot's mean to the crown of the end turn, both ends of every conductor.
    path = 0.5 * length / 3.0 + 0.5 * w.end_turn_length / 2.0
    to_end = 2.0 * s.slots * copper * metal / path
    if w.is_rectangular:
        # Bars are of one temperature across the slot: the hot spot is the third at the opening,
        # where bars lose most. It has its own walls and ends; half the height lies between.
        a.join("slot_winding", "teeth", (1.0 - CORE_SHARE) * to_teeth)
        a.join("hot_spot", "teeth", CORE_SHARE * to_teeth)
        a.join("slot_winding", "end_winding", (1.0 - CORE_SHARE) * to_end)
        a.join("hot_spot", "end_winding", CORE_SHARE * to_end)
        between = s.slots * inside * length * along / (0.5 * height)
        a.join("slot_winding", "hot_spot", between)
        return
    a.join("slot_winding", "teeth", to_teeth)
    a.join("slot_winding", "end_winding", to_end)
    mean_rise = inside / (12.0 * across * height * length) / s.slots
    a.join("slot_winding", "hot_spot", CORE_SHARE / (0.75 * mean_rise))


def _join_rotor(a: Assembly, machine: Machine, paths: RotorPaths) -> None:
    r = machine.rotor
    a.join("magnets", "rotor_iron", paths.magnets)
    seat = 2.0 * pi * r.shaft_radius * machine.stack_length * STILL_AIR / SHAFT_CONTACT
    a.join("rotor_iron", "shaft", in_series(paths.inside, seat))
    bore = SEAT_RATIO * 2.0 * r.shaft_radius
    ring = pi * MEAN_RATIO * bore * BEARING_WIDTH * bore
    between_rings = ring * STILL_AIR / BEARING_CONTACT
    seat = (2.0 - 1.0 / MEAN_RATIO) * ring * STILL_AIR / SHAFT_CONTACT  # on the outer diameter
    reach = 0.25 * machine.stack_length + machine.winding.overhang
    hollow = float(machine.parameters["shaft_bore_ratio"]) * r.shaft_radius
    stub = SHAFT_STEEL[0] * pi * ((0.5 * bore) ** 2 - hollow**2) / reach
    # The node is the outer rings; the inner rings sit on the shaft and are as warm as it is.
    a.join("shaft", "bearings", 2.0 * in_series(between_rings, stub))
    a.join("bearings", "frame", 2.0 * seat)


def _end_areas(machine: Machine) -> dict[str, float]:
    """Surfaces in the two end spaces [m^2]."""
    s, r, w = machine.stator, machine.rotor, machine.winding
    barrel = 2.0 * pi * w.overhang
    return {
        "end_winding": end_winding_surface(machine),
        "frame": 2.0 * (barrel * s.outer_radius + pi * s.outer_radius**2),
        "rotor_iron": 2.0 * pi * (r.outer_radius**2 - r.shaft_radius**2),
    }


def _capacities(machine: Machine, cooling: Cooling, masses: Masses, split: Array) -> Array:
    """Heat capacities; insulation's own is left out (5-10 % of the winding's, on the safe side)."""
    s = machine.stator
    iron = machine.lamination.specific_heat
    bore = SEAT_RATIO * 2.0 * machine.rotor.shaft_radius
    # Envelope of two bearings: mean circumference, width and radial height (D - d) / 2; the outer
    # rings and half of the balls are half of it.
    bearings = pi * MEAN_RATIO * bore * BEARING_WIDTH * bore * (MEAN_RATIO - 1.0) * bore
    gap = 2.0 * pi * machine.rotor.outer_radius * machine.air_gap * machine.stack_length
    winding = masses.conductor * machine.conductor.specific_heat * split
    capacity = {
        "coolant": duct_capacity(machine, cooling),
        "frame": frame_volume(machine, cooling) * ALUMINIUM[1] * ALUMINIUM[2],
        "yoke": masses.stator_yoke * iron,
        "teeth": masses.stator_teeth * iron,
        "slot_winding": winding[AT["slot_winding"]],
        "hot_spot": winding[AT["hot_spot"]],
        "end_winding": winding[AT["end_winding"]],
        "rotor_iron": masses.rotor_sheet * iron,
        "magnets": max(
            masses.magnet * machine.magnet.specific_heat + _cage_capacity(machine, masses),
            LEAST_CAPACITY,
        ),
        "shaft": masses.shaft * SHAFT_STEEL[1],
        "gap": gap * float(AIR.density) * float(AIR.specific_heat),
        "bearings": bearings * BEARING_FILL * STEEL_DENSITY * SHAFT_STEEL[1],
        "end_air": 2.0 * pi * s.outer_radius**2 * machine.winding.overhang
        * float(AIR.density) * float(AIR.specific_heat),
    }  # fmt: skip
    return np.array([float(capacity[name]) for name in NODES])


def _cage_capacity(machine: Machine, masses: Masses) -> float:
    """Return the heat capacity of bars and rings, which take the magnets' node [J/K]."""
    rotor = machine.rotor
    return masses.cage * rotor.material.specific_heat if isinstance(rotor, CageRotor) else 0.0
