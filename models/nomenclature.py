"""Every parameter and metric: symbol, unit, definition, plausible range.

This is the one source for study keys, tables, plots, exports and documentation.

Conventions (printed in every export)
-------------------------------------
* dq quantities are peak values (amplitude-invariant transform): power is 1.5 (v_d i_d + v_q i_q).
* d lies on the magnet axis of the families `interior` and `surface`, on the low-reluctance axis
  of `reluctance` machines (whose magnets, where there are any, point along negative q), and on
  the rotor's flux linkage for cage machines. q leads d by 90 electrical degrees. Inside the
  program reluctance machines are solved in the axes of their section (`models.axes`); whatever
  leaves it is in these.
* Motoring torque, power and current are positive; current angle is measured from the q axis
  towards negative d, in reluctance machines from the d axis towards q: the same angle in space.
* Phase currents of the supply are rms; flux linkages and back-EMF are peak unless named rms.
* SI inside the program, with two exceptions of the trade: temperatures are in degC (differences
  in K) and angles in files are in degrees. Files and tables carry the unit in the key or header.
* Energy supplied to the terminals covers winding loss and air-gap power; iron, magnet and
  mechanical losses brake the rotor, so shaft torque is air-gap torque less their drag.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from math import pi
from types import MappingProxyType
from typing import Literal

from models.errors import InvalidInputError

CONVENTIONS: tuple[str, ...] = (
    "dq quantities are peak values, amplitude-invariant: P = 1.5 (v_d i_d + v_q i_q)",
    "d on the magnet axis (interior, surface), the low-reluctance axis (reluctance, whose magnets "
    "point along negative q) or the rotor's flux (cage); q leads by 90 electrical degrees",
    "motoring is positive; current angle from the q axis towards negative d (reluctance: from the "
    "d axis towards q)",
    "supply phase current in A rms; flux linkage and back-EMF in peak values",
    "temperatures in degC; all else SI unless the header says otherwise",
)

_SHOWN: Mapping[str, tuple[str, float]] = MappingProxyType(
    # shown unit -> (SI unit, shown = SI * factor)
    {
        "": ("", 1.0),
        "%": ("", 100.0),
        "mm": ("m", 1e3),
        "m": ("m", 1.0),
        "deg": ("rad", 180.0 / pi),
        "N*m": ("N*m", 1.0),
        "N*m/kg": ("N*m/kg", 1.0),
        "N*m/L": ("N*m/m^3", 1e-3),
        "kW": ("W", 1e-3),
        "W": ("W", 1.0),
        "kW/kg": ("W/kg", 1e-3),
        "rpm": ("rad/s", 60.0 / (2.0 * pi)),
        "A": ("A", 1.0),
        "V": ("V", 1.0),
        "A/mm^2": ("A/m^2", 1e-6),
        "mWb": ("Wb", 1e3),
        "mH": ("H", 1e3),
        "mOhm": ("ohm", 1e3),
        "T": ("T", 1.0),
        "degC": ("degC", 1.0),
        "K": ("K", 1.0),
        "kg": ("kg", 1.0),
        "g": ("kg", 1e3),
        "kg*m^2": ("kg*m^2", 1.0),
        "cm^3": ("m^3", 1e6),
        "EUR": ("EUR", 1.0),
        "s": ("s", 1.0),
        "Wh/km": ("J/m", 1.0 / 3.6),
        "MPa": ("Pa", 1e-6),
        "N*m/A": ("N*m/A", 1.0),
        "m^2": ("m^2", 1.0),
        "m/s": ("m/s", 1.0),
        "Hz": ("Hz", 1.0),
        "kPa": ("Pa", 1e-3),
    }
)

Kind = Literal["real", "integer", "choice"]
Sense = Literal["less", "more"]


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
        return _SHOWN[self.shown_unit][0]

    @property
    def shown_factor(self) -> float:
        """Factor from SI to the shown unit."""
        return _SHOWN[self.shown_unit][1]

    @property
    def key(self) -> str:
        """Key in study files: the name with the shown unit appended (`stack_length_mm`)."""
        return f"{self.name}_{self.shown_unit.lower()}" if self.shown_unit else self.name


@dataclass(frozen=True)
class Metric:
    """One number of an evaluation.

    Attributes
    ----------
    name, symbol, definition : str
        As for `Parameter`.
    shown_unit : str
        Unit in tables, plots and files; stored values are in `unit` (SI).
    low, high : float
        Plausible range in the shown unit: outside it a value deserves a second look.
    better : {"less", "more"} or None
        Direction usually wanted; None when it depends.
    families : tuple of str
        Rotor families that have it; empty for all.
    models : tuple of str
        Magnetic models that give it; empty for all.
    """

    name: str
    symbol: str
    shown_unit: str
    definition: str
    low: float
    high: float
    better: Sense | None = None
    families: tuple[str, ...] = ()
    models: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """SI unit of stored values."""
        return _SHOWN[self.shown_unit][0]

    @property
    def shown_factor(self) -> float:
        """Factor from SI to the shown unit."""
        return _SHOWN[self.shown_unit][1]

    def shown(self, value: float) -> float:
        """Convert a stored SI value to the shown unit."""
        return value * self.shown_factor


FAMILIES: tuple[str, ...] = ("interior", "surface", "reluctance", "cage")

_WITH_MAGNETS: tuple[str, ...] = tuple(f for f in FAMILIES if f != "cage")
"""Families that have magnets, or may have them."""

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

_METRICS: tuple[Metric, ...] = (
    # --- torque and power
    Metric("peak_torque", "T_pk", "N*m", "Largest air-gap torque within the inverter current, at the rated magnet temperature; at low speed the shaft has it less about 1 %.", 20, 1000, "more"),
    Metric("launch_torque", "T_0", "N*m", "Standstill torque that inverter stall current and winding heating allow for the launch time.", 20, 1000, "more"),
    Metric("torque_at_base_speed", "T_b", "N*m", "Largest torque at the duty's base speed within inverter current and minimum DC voltage.", 20, 1000, "more"),
    Metric("base_speed", "n_b", "rpm", "Highest speed at which peak torque is still reached at nominal DC voltage.", 1000, 12000),
    Metric("peak_power", "P_pk", "kW", "Largest shaft power over speed at nominal DC voltage.", 20, 600, "more"),
    Metric("top_speed_power", "P_top", "kW", "Largest shaft power at top speed at nominal DC voltage.", 10, 500, "more"),
    Metric("top_speed_power_low_voltage", "P_top,min", "kW", "Largest shaft power at top speed at minimum DC voltage.", 10, 500, "more"),
    Metric("continuous_torque", "T_cont", "N*m", "Torque at the duty's base speed held without end within winding and magnet temperature limits, with the remanence of the magnet temperature reached.", 10, 600, "more"),
    Metric("continuous_power", "P_cont", "kW", "Power at half of top speed held without end within winding and magnet temperature limits, with the remanence of the magnet temperature reached.", 5, 400, "more"),
    Metric("peak_hold_time", "t_pk", "s", "Time from mean cycle temperatures that the largest torque at the duty's base speed can be held before a temperature limit.", 2, 600, "more"),
    Metric("torque_per_current", "k_T", "N*m/A", "Peak torque per ampere rms of phase current.", 0.1, 3, "more"),
    Metric("saliency", "L_q/L_d", "", "Apparent q-axis over d-axis inductance at the peak-torque point: (psi_q/i_q) / ((psi_d - psi_m)/i_d), in reluctance machines the low- over the high-reluctance axis; where i_d is below a tenth of the current, L_d is taken at half the current on negative d.", 1, 6, families=_WITH_MAGNETS),
    Metric("power_factor", "PF", "", "Power factor at peak torque and base speed.", 0.5, 0.99, "more"),
    Metric("reluctance_share", "T_rel/T", "%", "Share of peak torque that is reluctance torque, by frozen permeability.", 0, 100, families=_WITH_MAGNETS),
    # --- back-EMF, field weakening, faults
    Metric("open_circuit_flux", "psi_m", "mWb", "Open-circuit flux linkage of one phase at the rated magnet temperature.", 0, 400),
    Metric("back_emf_line_peak", "U_oc", "V", "Peak of the fundamental line-to-line back-EMF at top speed, inverter off, cold magnets.", 0, 2000, "less"),
    Metric("rectification_voltage", "U_rect", "V", "DC voltage that the machine holds up through the inverter's diodes at top speed, inverter off, cold magnets, saliency included (steady state, fundamental).", 0, 2000, "less", families=_WITH_MAGNETS),
    Metric("rectification_current", "I_rect", "A", "Phase current that flows through the diodes into the DC link at its minimum voltage at top speed, inverter off, cold magnets, rms; zero where the link is out of reach.", 0, 1000, "less", families=_WITH_MAGNETS),
    Metric("characteristic_current", "I_ch", "A", "Steady short-circuit phase current at high speed at the rated magnet temperature, rms.", 0, 1500),
    Metric("short_circuit_torque", "T_sc", "N*m", "Largest braking torque of a steady three-phase short circuit over speed at the rated magnet temperature.", 0, 500, "less"),
    Metric("short_circuit_peak_current", "i_sc", "A", "Largest current amplitude after a sudden three-phase short circuit, from peak torque at base speed (motoring or generating) or from no current at top speed.", 50, 4000, "less", families=_WITH_MAGNETS),
    Metric("short_circuit_peak_torque", "T_sc,pk", "N*m", "Largest braking torque in the same transients.", 0, 2000, "less", families=_WITH_MAGNETS),
    # --- losses and cycle
    Metric("peak_efficiency", "eta_max", "%", "Best efficiency on the efficiency map.", 85, 98.5, "more"),
    Metric("cycle_efficiency", "eta_cyc", "%", "Machine efficiency over the cycle: useful energy over useful energy plus loss, motoring and regeneration.", 80, 98, "more"),
    Metric("cycle_loss", "", "Wh/km", "Machine loss over the cycle per distance.", 2, 40, "less"),
    Metric("cycle_loss_winding", "", "Wh/km", "Winding loss (DC and AC) over the cycle per distance.", 0.5, 30, "less"),
    Metric("cycle_loss_iron", "", "Wh/km", "Stator iron loss over the cycle per distance.", 0.2, 20, "less"),
    Metric("cycle_loss_rotor_iron", "", "Wh/km", "Loss in the rotor's sheets by slot and winding harmonics over the cycle per distance.", 0, 3, "less", families=_WITH_MAGNETS),
    Metric("cycle_loss_magnet", "", "Wh/km", "Magnet eddy-current loss over the cycle per distance.", 0, 5, "less", families=_WITH_MAGNETS),
    Metric("cycle_loss_sleeve", "", "Wh/km", "Eddy-current loss in the retaining sleeve over the cycle per distance.", 0, 5, "less", families=("surface",)),
    Metric("cycle_loss_mechanical", "", "Wh/km", "Bearing and windage loss over the cycle per distance.", 0.05, 5, "less"),
    Metric("cycle_loss_saving", "", "%", "Share of the cycle's loss that currents of least loss would save against currents of least amplitude (max torque per ampere).", 0, 15, families=_WITH_MAGNETS),
    Metric("top_speed_magnet_loss", "P_PM", "W", "Eddy-current loss in magnets (and a sleeve) at top speed and the largest torque there at nominal DC voltage.", 0, 2000, "less", families=_WITH_MAGNETS),
    Metric("magnet_skin_ratio", "", "", "Shorter side of a magnet piece over its skin depth at the slot harmonic of top speed; above 2 the magnet-loss estimate leaves its range, and further pieces may raise the loss.", 0, 2, families=_WITH_MAGNETS),
    Metric("ac_resistance_ratio", "R_ac/R_dc", "", "Phase resistance at top speed over that for direct current, at the rated winding temperature.", 1, 3, "less"),
    Metric("opening_loss_share", "", "%", "Share of the slots' winding loss at top speed that arises in the third of their height nearest to the opening (round strands: spread evenly, 33 %).", 33, 75, "less"),
    Metric("cycle_missed_energy", "", "%", "Share of the cycle's traction energy that the machine cannot deliver.", 0, 5, "less"),
    Metric("cycle_missed_time", "", "%", "Share of the cycle's time at which the demanded torque cannot be reached.", 0, 5, "less"),
    Metric("drag_loss", "P_0", "W", "Iron, magnet and mechanical loss at half of top speed with zero current.", 20, 5000, "less"),
    # --- heat
    Metric("winding_temperature", "theta_w", "degC", "Winding hot spot in steady state at the duty's continuous load; out of reach, winding loss is scaled by torque squared.", 60, 220, "less"),
    Metric("magnet_temperature", "theta_m", "degC", "Magnet temperature in steady state at the duty's continuous load.", 50, 180, "less", families=_WITH_MAGNETS),
    Metric("bearing_temperature", "theta_b", "degC", "Temperature of the hotter bearing ring in steady state at the duty's continuous load; the inner ring is as warm as the shaft.", 50, 140, "less"),
    Metric("coolant_pressure_drop", "", "kPa", "Pressure drop of the water jacket's duct, straightened; 0 without a jacket.", 0, 100, "less"),
    Metric("cycle_winding_temperature", "", "degC", "Highest winding hot spot over repeated cycles once settled.", 50, 200, "less"),
    Metric("cycle_magnet_temperature", "", "degC", "Highest magnet temperature over repeated cycles once settled.", 50, 180, "less", families=_WITH_MAGNETS),
    Metric("current_density", "J_pk", "A/mm^2", "Conductor current density at the inverter's phase current, rms.", 5, 40, "less"),
    Metric("continuous_current_density", "J_cont", "A/mm^2", "Conductor current density at the continuous torque, rms.", 3, 20, "less"),
    # --- magnets and strength
    Metric("demagnetisation_margin", "", "T", "Magnet flux density along its magnetisation that 2 % of the magnets' area lies below, at peak current against the magnets and the hot (ferrite: the worse of hot and cold) magnet temperature, less the knee; without magnets the grade's remanence less its knee.", -0.5, 0.8, "more", families=_WITH_MAGNETS),
    Metric("demagnetisation_margin_short_circuit", "", "T", "The same at the most negative d-axis current after a sudden three-phase short circuit.", -1.0, 0.8, "more", families=_WITH_MAGNETS),
    Metric("bridge_safety_factor", "", "", "Yield strength over equivalent stress in bridge or rib, whichever is lower, at overspeed and temperature.", 0.5, 6, "more", families=("interior", "reluctance")),
    Metric("rotor_safety_factor", "", "", "Strength over equivalent stress in the part of the rotor that is nearest to it, at overspeed and temperature: bridges and ribs, sleeve, cage.", 0.5, 6, "more"),
    Metric("burst_speed", "n_burst", "rpm", "Speed at which the mean stress of the part that holds the rotor together reaches its tensile strength.", 5000, 60000, "more"),
    Metric("magnet_retention_factor", "", "", "Glue and friction that hold a magnet in its pocket over the centrifugal force along it, at overspeed; 1000 without magnets.", 1, 1000, "more", families=("interior", "reluctance")),
    Metric("critical_speed", "n_crit", "rpm", "First bending critical speed of the rotor on its bearings.", 5000, 100000, "more"),
    Metric("tip_speed", "v_tip", "m/s", "Rotor surface speed at top speed.", 40, 200),
    Metric("sleeve_safety_factor", "", "", "Strength of the sleeve over its largest hoop stress, from standstill to overspeed, cold and hot; of the glue where there is no sleeve.", 0.5, 10, "more", families=("surface",)),
    Metric("magnet_contact_factor", "", "", "Pressure of the sleeve on the magnets at standstill, hot, over the pressure that keeps them seated at overspeed; the glue's factor where there is no sleeve.", 0, 20, "more", families=("surface",)),
    # --- noise
    Metric("radial_pressure", "p_2p", "kPa", "Largest wave of radial magnetic pressure on the bore with as many waves as poles, at peak torque.", 5, 500, "less", families=("interior", "reluctance")),
    Metric("breathing_frequency", "f_0", "Hz", "Natural frequency of the stator core in its breathing mode, frame left out.", 1000, 20000, "more"),
    Metric("pole_order_frequency", "f_2p", "Hz", "Natural frequency of the stator core in the mode with as many waves as poles, frame left out.", 500, 40000, "more"),
    Metric("pole_order_speed", "n_2p", "rpm", "Speed at which the radial-force wave of pole order meets that mode.", 5000, 300000, "more"),
    Metric("breathing_pressure", "p_0", "kPa", "Half of the peak-to-peak value of the mean radial pressure round the bore, at peak torque.", 0, 50, "less", models=("field",)),
    Metric("torque_ripple", "", "%", "Peak-to-peak torque over mean torque at peak torque, sine currents.", 0.5, 50, "less", models=("field",)),
    Metric("torque_ripple_6", "T_6", "%", "Amplitude of the torque wave of six times electrical frequency over mean torque, at peak torque.", 0, 20, "less", models=("field",)),
    Metric("torque_ripple_12", "T_12", "%", "Amplitude of the torque wave of twelve times electrical frequency over mean torque, at peak torque.", 0, 20, "less", models=("field",)),
    Metric("cogging_torque", "", "N*m", "Peak-to-peak torque without current.", 0, 30, "less", models=("field",)),
    # --- mass, size, cost
    Metric("magnet_mass", "m_PM", "kg", "Mass of all magnets.", 0, 6, "less"),
    Metric("magnet_block_mass", "", "kg", "Mass of magnet bought as blocks, with what is cut and ground off.", 0, 8, "less"),
    Metric("magnet_pieces", "", "", "Number of magnet pieces in the machine.", 0, 5000, "less"),
    Metric("magnet_volume", "V_PM", "cm^3", "Volume of all magnets.", 0, 800, "less"),
    Metric("heavy_rare_earth_mass", "m_HRE", "g", "Mass of dysprosium and terbium in the magnets.", 0, 400, "less"),
    Metric("conductor_mass", "m_w", "kg", "Mass of bare conductor with end turns.", 1, 40, "less"),
    Metric("stator_sheet_mass", "", "kg", "Mass of stator sheets in the machine.", 2, 100, "less"),
    Metric("rotor_sheet_mass", "", "kg", "Mass of rotor sheets in the machine.", 1, 60, "less"),
    Metric("purchased_sheet_mass", "", "kg", "Mass of sheet bought with stamping scrap.", 5, 300, "less"),
    Metric("sleeve_mass", "", "kg", "Mass of the retaining sleeve.", 0, 3, "less", families=("surface",)),
    Metric("insulation_area", "", "m^2", "Area of slot liner.", 0, 20, "less"),
    Metric("resin_mass", "", "kg", "Mass of impregnation resin.", 0, 10, "less"),
    Metric("housing_mass", "", "kg", "Mass of the frame with its duct and end shields.", 1, 150, "less"),
    Metric("shaft_mass", "", "kg", "Mass of the shaft inside the stack.", 0.3, 30, "less"),
    Metric("active_mass", "m", "kg", "Mass of sheets, conductors, magnets and sleeve.", 5, 200, "less"),
    Metric("rotor_inertia", "J_r", "kg*m^2", "Moment of inertia of rotor sheets, magnets, sleeve and shaft in the stack.", 0.001, 3),
    Metric("torque_density", "", "N*m/kg", "Peak torque over active mass.", 3, 40, "more"),
    Metric("power_density", "", "kW/kg", "Peak power over active mass.", 0.8, 15, "more"),
    Metric("cost", "C", "EUR", "Material and process cost of active parts and frame at the study's price list.", 50, 3000, "less"),
    Metric("magnet_cost_share", "", "%", "Share of the cost that is magnets: magnets 10 % dearer raise the cost by a tenth of it.", 0, 80),
    # --- cage
    Metric("cage_mass", "m_cage", "kg", "Mass of bars and end rings.", 0.5, 40, "less", families=("cage",)),
    Metric("cage_temperature", "theta_c", "degC", "Cage temperature in steady state at the duty's continuous load.", 50, 250, "less", families=("cage",)),
    Metric("cycle_cage_temperature", "", "degC", "Highest cage temperature over repeated cycles once settled.", 50, 250, "less", families=("cage",)),
    Metric("cycle_loss_cage", "", "Wh/km", "Loss in bars and rings (slip times gap power) and stray load loss over the cycle per distance.", 0.5, 20, "less", families=("cage",)),
    Metric("cage_current_density", "J_cage", "A/mm^2", "Bar current density at peak torque, rms.", 3, 60, "less", families=("cage",)),
    Metric("slip_at_base_speed", "s_b", "%", "Slip at the largest torque at the duty's base speed and minimum DC voltage.", 0.3, 8, "less", families=("cage",)),
    Metric("slot_bar_conflicts", "", "", "Rules against noise, cogging and cusps that the numbers of slots, bars and poles break.", 0, 3, "less", families=("cage",)),
    # --- shape
    Metric("v_angle", "", "deg", "Included angle of the V formed by the two magnets of a pole; 180 is flat.", 90, 180, families=("interior",)),
    Metric("magnet_width", "b_m", "mm", "Width of one magnet leg.", 3, 60, families=("interior",)),
    Metric("tooth_flux_density", "B_t", "T", "Peak flux density in the teeth at the peak-torque point.", 1.0, 2.3),
    Metric("yoke_flux_density", "B_y", "T", "Peak flux density in the stator yoke at the peak-torque point.", 0.5, 2.2),
    Metric("slot_copper_share", "", "%", "Conductor area over the area of the slot bodies, openings left out.", 25, 75, "more"),
    Metric("phase_resistance", "R_s", "mOhm", "Phase resistance at 20 degC, direct current.", 1, 500),
)  # fmt: skip

PARAMETERS: Mapping[str, Parameter] = MappingProxyType({p.name: p for p in _PARAMETERS})
METRICS: Mapping[str, Metric] = MappingProxyType({m.name: m for m in _METRICS})


def family_parameters(family: str) -> dict[str, Parameter]:
    """Return the parameters that a rotor family uses, by name."""
    return {n: p for n, p in PARAMETERS.items() if not p.families or family in p.families}


def family_metrics(family: str, model: str = "circuit") -> dict[str, Metric]:
    """Return the metrics that a rotor family has by a magnetic model, by name."""
    return {
        n: m
        for n, m in METRICS.items()
        if (not m.families or family in m.families) and (not m.models or model in m.models)
    }


def check_family(family: str) -> None:
    """Raise InvalidInputError unless a rotor family of that name exists."""
    if family not in FAMILIES:
        raise InvalidInputError(f"unknown rotor family {family!r}; allowed: {', '.join(FAMILIES)}")


def nearest(word: str, allowed: Mapping[str, object] | tuple[str, ...]) -> str | None:
    """Return the allowed word closest in spelling to `word`, or None if nothing is close."""
    close = get_close_matches(word, list(allowed), n=1, cutoff=0.6)
    return close[0] if close else None


def metric(name: str) -> Metric:
    """Return the metric of that name.

    Raises
    ------
    InvalidInputError
        For an unknown name, with the nearest spelling.
    """
    if name not in METRICS:
        hint = nearest(name, METRICS)
        raise InvalidInputError(
            f"unknown metric {name!r}" + (f"; did you mean {hint!r}?" if hint else "")
        )
    return METRICS[name]
