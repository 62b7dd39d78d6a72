"""Every parameter of a machine: symbol, unit, definition, allowed range, default."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from models.nomenclature.units import SHOWN

Kind = Literal["real", "integer", "choice"]


@dataclass(frozen=True)
class Parameter:
    """One machine parameter that a study may fix or vary.

    Attributes
    ----------
    name : str
        Name inside the program, without unit.
    symbol : str
        Textbook symbol (plain text).
    shown_unit : str
        Unit in files and tables; `low`, `high` and `default` are in this unit.
    definition : str
        One sentence.
    low, high : float
        Allowed range, in the shown unit (ignored for choices).
    default : float, int or str
        Value used when a study does not give one, in the shown unit.
    kind : {"real", "integer", "choice"}
        Kind of value.
    choices : tuple of str
        Allowed words of a choice; empty when the words come from a catalogue (materials).
    families : tuple of str
        Rotor families that use it; empty for all.
    """

    name: str
    symbol: str
    shown_unit: str
    definition: str
    low: float
    high: float
    default: float | int | str
    kind: Kind = "real"
    choices: tuple[str, ...] = ()
    families: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """SI unit inside the program."""
        return SHOWN[self.shown_unit][0]

    @property
    def shown_factor(self) -> float:
        """Factor from SI to the shown unit."""
        return SHOWN[self.shown_unit][1]

    @property
    def key(self) -> str:
        """Key in study files: the name with the shown unit appended (`stack_length_mm`)."""
        unit = self.shown_unit.lower().replace("^", "").replace("/", "_per_")
        return f"{self.name}_{unit}" if unit else self.name


_PARAMETERS: tuple[Parameter, ...] = (
    # --- frame and stator
    Parameter("stator_outer_diameter", "D_so", "mm", "Outer diameter of the stator sheets.", 80, 500, 210),
    Parameter("stack_length", "L", "mm", "Axial length of the laminated stack.", 20, 500, 140),
    Parameter("air_gap", "g", "mm", "Radial air gap between stator bore and rotor surface.", 0.3, 3.0, 0.8),
    Parameter("slots", "Q", "", "Number of stator slots.", 6, 144, 48, "integer"),
    Parameter("poles", "2p", "", "Number of poles (even).", 2, 24, 8, "integer"),
    Parameter("bore_ratio", "D_si/D_so", "", "Stator bore diameter over stator outer diameter.", 0.4, 0.85, 0.67),
    Parameter("slot_depth_ratio", "h_s/(R_so-R_si)", "", "Slot depth from bore to slot bottom over the radial height of the stator.", 0.3, 0.85, 0.6),
    Parameter("tooth_width_ratio", "b_t/tau_s", "", "Tooth width over slot pitch, both just behind the tooth tip.", 0.3, 0.75, 0.53),
    Parameter("slot_opening_ratio", "b_o/b_s", "", "Slot opening over slot width, both at the gap side of the slot.", 0.1, 0.9, 0.35),
    Parameter("tip_height", "h_tip", "mm", "Radial height of the straight part of the slot opening.", 0.2, 4.0, 0.7),
    Parameter("wedge_height", "h_wedge", "mm", "Radial height of the tapered part between slot opening and slot body.", 0.1, 5.0, 0.6),
    # --- winding
    Parameter("conductor", "", "", "Conductor section: rectangular (parallel-sided slot) or round strands (parallel-sided teeth).", 0, 0, "rectangular", "choice", ("rectangular", "round")),
    Parameter("winding_layers", "n_l", "", "Coil sides per slot, 1 or 2.", 1, 2, 2, "integer"),
    Parameter("turns_per_coil", "N_c", "", "Turns of one coil; conductors per slot are layers times turns.", 1, 60, 3, "integer"),
    Parameter("parallel_paths", "a", "", "Parallel paths of one phase.", 1, 24, 4, "integer"),
    Parameter("pitch_shortening", "", "", "Slots by which the coil span is shorter than full pitch.", 0, 6, 0, "integer"),
    Parameter("copper_fill", "k_Cu", "", "Copper area over net slot area inside the liner (round strands only).", 0.2, 0.7, 0.45),
    Parameter("strand_diameter", "d_str", "mm", "Bare diameter of a round strand (round strands only).", 0.2, 3.0, 0.8),
    Parameter("strand_arrangement", "", "", "Strands of one conductor twisted (transposed), or side by side from end to end of the coil so that currents circulate among them (round strands only).", 0, 0, "twisted", "choice", ("twisted", "parallel")),
    Parameter("conductor_insulation", "", "mm", "Insulation thickness on one side of a conductor.", 0.02, 0.4, 0.1),
    Parameter("liner_thickness", "", "mm", "Thickness of the slot liner.", 0.05, 1.0, 0.25),
    # --- materials
    Parameter("lamination", "", "", "Electrical-steel grade of stator and rotor sheets.", 0, 0, "HP270-35A", "choice"),
    Parameter("stacking_factor", "k_Fe", "", "Iron length over stack length.", 0.85, 0.99, 0.96),
    Parameter("magnet_grade", "", "", "Permanent-magnet grade.", 0, 0, "N42SH", "choice"),
    Parameter("conductor_material", "", "", "Material of the stator winding.", 0, 0, "copper", "choice", ("copper", "aluminium")),
    # --- rotor
    Parameter("shaft_ratio", "D_sh/D_r", "", "Rotor inner (shaft) diameter over rotor outer diameter.", 0.1, 0.75, 0.35),
    Parameter("shaft_bore_ratio", "d_sh/D_sh", "", "Bore of a hollow shaft over its outer diameter; 0 is solid.", 0.0, 0.65, 0.0),
    Parameter("grease_viscosity", "nu_40", "mm^2/s", "Kinematic viscosity at 40 degC of the base oil of the bearings' grease.", 10, 460, 100),
    Parameter("skew_steps", "n_sk", "", "Slices of the rotor turned against each other (step skew); 1 is no skew.", 1, 12, 1, "integer", families=("interior",)),
    Parameter("skew_ratio", "", "", "Turn between neighbouring slices, times their number, over the slot pitch; 1 removes the slot harmonics.", 0.0, 2.0, 1.0, families=("interior",)),
    Parameter("barrier_span_ratio", "alpha_b", "", "Angle between the far corners of the widest flux barrier over the pole pitch.", 0.4, 0.97, 0.86, families=("interior", "reluctance")),
    Parameter("v_depth_ratio", "", "", "Depth of the V: 0 is a flat magnet, 1 the deepest V the shaft or a 100 degree V allows.", 0.0, 1.0, 0.5, families=("interior",)),
    Parameter("magnet_thickness", "h_m", "mm", "Magnet thickness along its magnetisation.", 1.0, 15.0, 5.0, families=("interior", "surface")),
    Parameter("magnet_width_ratio", "", "", "Magnet width over the straight length of its pocket.", 0.3, 1.0, 0.9, families=("interior",)),
    Parameter("barrier_width_ratio", "", "", "Width of the outer flux barrier along the bridge over magnet thickness.", 0.3, 2.0, 0.9, families=("interior",)),
    Parameter("bridge_thickness", "b_br", "mm", "Radial thickness of the iron bridge between outer barrier and rotor surface.", 0.3, 6.0, 1.2, families=("interior", "reluctance")),
    Parameter("rib_width", "b_rib", "mm", "Width of the iron rib on the pole axis between the two magnets.", 0.3, 10.0, 1.6, families=("interior", "reluctance")),
    Parameter("magnet_axial_segments", "n_ax", "", "Number of magnet pieces along the stack.", 1, 60, 6, "integer", families=("interior", "surface", "reluctance")),
    Parameter("magnet_width_segments", "n_w", "", "Number of magnet pieces across the magnet width of one leg, or around one arc.", 1, 12, 1, "integer", families=("interior", "surface", "reluctance")),
    Parameter("magnet_layout", "", "", "Magnets of a pole: one V (or flat) pair, two V one inside the other, or a V with a flat pair over it.", 0, 0, "single", "choice", ("single", "double_v", "v_flat"), families=("interior",)),
    Parameter("outer_span_ratio", "", "", "Angle between the far corners of the layer next to the gap over that between the near corners of the inner V (two layers only).", 0.3, 0.95, 0.72, families=("interior",)),
    Parameter("outer_thickness_ratio", "", "", "Magnet thickness of the layer next to the gap over that of the inner V (two layers only).", 0.3, 1.2, 0.7, families=("interior",)),
    # --- rotor with layers of flux barriers; number 1 is nearest the gap
    Parameter("barriers", "n_b", "", "Flux barriers per pole.", 1, 4, 3, "integer", families=("reluctance",)),
    Parameter("insulation_ratio", "k_w", "", "Thickness of all barriers on the pole axis over the depth from the bridges to the deepest barrier's shaft side.", 0.1, 0.7, 0.4, families=("reluctance",)),
    Parameter("barrier_depth_ratio", "", "", "Depth of the deepest barrier's shaft side below the bridges over the depth the shaft allows.", 0.3, 1.0, 0.85, families=("reluctance",)),
    Parameter("barrier_grading", "", "", "Thickness of the deepest barrier over the outermost one's.", 0.4, 3.0, 1.2, families=("reluctance",)),
    Parameter("barrier_lead_ratio", "", "", "Extra angle of iron before the outermost barrier's end, in pitches of the barrier ends.", 0.0, 2.0, 0.4, families=("reluctance",)),
    Parameter("barrier_end_ratio", "", "", "Width of a barrier under its bridge over the pitch of the barrier ends.", 0.15, 0.8, 0.45, families=("reluctance",)),
    Parameter("outer_rib_ratio", "", "", "Rib width of the outermost barrier over the deepest one's.", 0.2, 1.0, 0.6, families=("interior", "reluctance")),
    Parameter("magnet_fill_1", "", "", "Magnet width in barrier 1 (next to the gap) over the room beside its rib; below 0.1 there is no magnet.", 0.0, 1.0, 0.0, families=("reluctance",)),
    Parameter("magnet_fill_2", "", "", "Magnet width in barrier 2 over the room beside its rib; below 0.1 there is no magnet.", 0.0, 1.0, 0.0, families=("reluctance",)),
    Parameter("magnet_fill_3", "", "", "Magnet width in barrier 3 over the room beside its rib; below 0.1 there is no magnet.", 0.0, 1.0, 0.0, families=("reluctance",)),
    Parameter("magnet_fill_4", "", "", "Magnet width in barrier 4 over the room beside its rib; below 0.1 there is no magnet.", 0.0, 1.0, 0.0, families=("reluctance",)),
    # --- rotor with magnets on the surface
    Parameter("magnet_arc_ratio", "alpha_m", "", "Angle of the magnet arc over the pole pitch.", 0.4, 0.97, 0.85, families=("surface",)),
    Parameter("magnetisation", "", "", "Direction of magnetisation: radial, or parallel to the pole axis over the whole arc.", 0, 0, "parallel", "choice", ("parallel", "radial"), families=("surface",)),
    Parameter("inset_ratio", "", "", "Height of the iron between the magnets above their base over magnet thickness; 0 is a plain surface magnet, 1 a magnet flush with the iron.", 0.0, 1.0, 0.0, families=("surface",)),
    Parameter("sleeve_thickness", "h_sl", "mm", "Thickness of the retaining sleeve over the magnets; 0 is none (glued magnets).", 0.0, 8.0, 1.5, families=("surface",)),
    Parameter("sleeve_material", "", "", "Material of the retaining sleeve.", 0, 0, "carbon-fibre", "choice", families=("surface",)),
    Parameter("sleeve_prestress", "sigma_pre", "MPa", "Hoop stress at the inner face of the sleeve at standstill and 20 degC.", 0.0, 1500.0, 700.0, families=("surface",)),
    # --- cage
    Parameter("bars", "Q_r", "", "Number of rotor bars.", 8, 200, 58, "integer", families=("cage",)),
    Parameter("bar_shape", "", "", "Shape of a bar: round, drop (between parallel teeth), rectangular, or deep (rectangular, at least four times as high as wide).", 0, 0, "drop", "choice", ("round", "drop", "rectangular", "deep"), families=("cage",)),
    Parameter("bar_width_ratio", "b_b/tau_r", "", "Bar width over rotor slot pitch, both at the gap side of the bar.", 0.2, 0.8, 0.5, families=("cage",)),
    Parameter("bar_depth_ratio", "h_r/(R_r-R_sh)", "", "Depth from the rotor surface to the bars' bottom over the radial height of the rotor (round bars take it from their width).", 0.1, 0.8, 0.35, families=("cage",)),
    Parameter("rotor_slot_opening", "b_ro", "mm", "Width of the rotor slot opening; 0 is a closed slot.", 0.0, 6.0, 1.0, families=("cage",)),
    Parameter("rotor_bridge_height", "h_ro", "mm", "Radial height of the rotor slot opening, or of the iron bridge over a closed slot.", 0.2, 4.0, 0.8, families=("cage",)),
    Parameter("ring_width", "b_ring", "mm", "Axial width of each end ring; radially it is as high as the bars.", 2.0, 60.0, 12.0, families=("cage",)),
    Parameter("skew_slots", "", "", "Skew of the bars over the stack, in stator slot pitches.", 0.0, 2.0, 0.0, families=("cage",)),
    Parameter("cage_material", "", "", "Material of bars and rings.", 0, 0, "copper", "choice", ("copper", "aluminium"), families=("cage",)),
)  # fmt: skip

PARAMETERS: Mapping[str, Parameter] = MappingProxyType({p.name: p for p in _PARAMETERS})


def family_parameters(family: str) -> dict[str, Parameter]:
    """Return the parameters that a rotor family uses, by name."""
    return {n: p for n, p in PARAMETERS.items() if not p.families or family in p.families}
