"""Every metric of an evaluation: symbol, unit, definition, plausible range."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from models.errors import InvalidInputError
from models.nomenclature.families import WITH_MAGNETS
from models.nomenclature.spelling import nearest
from models.nomenclature.units import SHOWN

Sense = Literal["less", "more"]


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
        return SHOWN[self.shown_unit][0]

    @property
    def shown_factor(self) -> float:
        """Factor from SI to the shown unit."""
        return SHOWN[self.shown_unit][1]

    def shown(self, value: float) -> float:
        """Convert a stored SI value to the shown unit."""
        return value * self.shown_factor


_METRICS: tuple[Metric, ...] = (
    # --- torque and power
    Metric("peak_torque", "T_pk", "N*m", "Largest air-gap torque within the inverter current, at the rated magnet temperature; at low speed the shaft has it less about 1 %.", 20, 1000, "more"),
    Metric("launch_torque", "T_0", "N*m", "Standstill torque that inverter stall current and winding heating allow for the launch time.", 20, 1000, "more"),
    Metric("torque_at_base_speed", "T_b", "N*m", "Largest torque at the duty's base speed within inverter current and minimum DC voltage.", 20, 1000, "more"),
    Metric("base_speed", "n_b", "rpm", "Highest speed at which peak torque is still reached at nominal DC voltage.", 1000, 12000),
    Metric("peak_power", "P_pk", "kW", "Largest shaft power over speed at nominal DC voltage.", 20, 600, "more"),
    Metric("top_speed_power", "P_top", "kW", "Largest shaft power at top speed at nominal DC voltage.", 10, 500, "more"),
    Metric("top_speed_power_low_voltage", "P_top,min", "kW", "Largest shaft power at top speed at minimum DC voltage.", 10, 500, "more"),
    Metric("continuous_torque", "T_cont", "N*m", "Torque at the duty's base speed held continuously within winding and magnet temperature limits, with the remanence of the magnet temperature reached.", 10, 600, "more"),
    Metric("continuous_power", "P_cont", "kW", "Power at half of top speed held continuously within winding and magnet temperature limits, with the remanence of the magnet temperature reached.", 5, 400, "more"),
    Metric("peak_hold_time", "t_pk", "s", "Time from mean cycle temperatures that the largest torque at the duty's base speed can be held before a temperature limit.", 2, 600, "more"),
    Metric("torque_per_current", "k_T", "N*m/A", "Peak torque per ampere rms of phase current.", 0.1, 3, "more"),
    Metric("saliency", "L_q/L_d", "", "Apparent q-axis over d-axis inductance at the peak-torque point: (psi_q/i_q) / ((psi_d - psi_m)/i_d), in reluctance machines the low- over the high-reluctance axis; where i_d is below a tenth of the current, L_d is taken at half the current on negative d.", 1, 6, families=WITH_MAGNETS),
    Metric("power_factor", "PF", "", "Power factor at peak torque and base speed.", 0.5, 0.99, "more"),
    Metric("reluctance_share", "T_rel/T", "%", "Share of peak torque that is reluctance torque, by frozen permeability.", 0, 100, families=WITH_MAGNETS),
    # --- back-EMF, field weakening, faults
    Metric("open_circuit_flux", "psi_m", "mWb", "Open-circuit flux linkage of one phase at the rated magnet temperature.", 0, 400),
    Metric("back_emf_line_peak", "U_oc", "V", "Peak of the fundamental line-to-line back-EMF at top speed, inverter off, cold magnets.", 0, 2000, "less"),
    Metric("rectification_voltage", "U_rect", "V", "DC voltage that the machine holds up through the inverter's diodes at top speed, inverter off, cold magnets, saliency included (steady state, fundamental).", 0, 2000, "less", families=WITH_MAGNETS),
    Metric("rectification_current", "I_rect", "A", "Phase current that flows through the diodes into the DC link at its minimum voltage at top speed, inverter off, cold magnets, rms; zero where the link is out of reach.", 0, 1000, "less", families=WITH_MAGNETS),
    Metric("characteristic_current", "I_ch", "A", "Steady short-circuit phase current at high speed at the rated magnet temperature, rms.", 0, 1500),
    Metric("short_circuit_torque", "T_sc", "N*m", "Largest braking torque of a steady three-phase short circuit over speed at the rated magnet temperature.", 0, 500, "less"),
    Metric("short_circuit_peak_current", "i_sc", "A", "Largest current amplitude after a sudden three-phase short circuit, from peak torque at base speed (motoring or generating) or from no current at top speed.", 50, 4000, "less", families=WITH_MAGNETS),
    Metric("short_circuit_peak_torque", "T_sc,pk", "N*m", "Largest braking torque in the same transients.", 0, 2000, "less", families=WITH_MAGNETS),
    # --- losses and cycle
    Metric("peak_efficiency", "eta_max", "%", "Best efficiency on the efficiency map.", 85, 98.5, "more"),
    Metric("cycle_efficiency", "eta_cyc", "%", "Machine efficiency over the cycle: useful energy over useful energy plus loss, motoring and regeneration.", 80, 98, "more"),
    Metric("cycle_loss", "", "Wh/km", "Machine loss over the cycle per distance.", 2, 40, "less"),
    Metric("cycle_loss_winding", "", "Wh/km", "Winding loss (DC and AC) over the cycle per distance.", 0.5, 30, "less"),
    Metric("cycle_loss_iron", "", "Wh/km", "Stator iron loss over the cycle per distance.", 0.2, 20, "less"),
    Metric("cycle_loss_rotor_iron", "", "Wh/km", "Loss in the rotor's sheets by slot and winding harmonics over the cycle per distance.", 0, 3, "less", families=WITH_MAGNETS),
    Metric("cycle_loss_magnet", "", "Wh/km", "Magnet eddy-current loss over the cycle per distance.", 0, 5, "less", families=WITH_MAGNETS),
    Metric("cycle_loss_sleeve", "", "Wh/km", "Eddy-current loss in the retaining sleeve over the cycle per distance.", 0, 5, "less", families=("surface",)),
    Metric("cycle_loss_mechanical", "", "Wh/km", "Bearing and windage loss over the cycle per distance.", 0.05, 5, "less"),
    Metric("cycle_loss_switching", "", "Wh/km", "Loss in stator sheets and winding by the inverter's switching over the cycle per distance; zero where the duty names no switching frequency.", 0, 5, "less"),
    Metric("cycle_loss_saving", "", "%", "Share of the cycle's loss that currents of least loss would save against currents of least amplitude (max torque per ampere).", 0, 15, families=WITH_MAGNETS),
    Metric("top_speed_magnet_loss", "P_PM", "W", "Eddy-current loss in magnets (and a sleeve) at top speed and the largest torque there at nominal DC voltage.", 0, 2000, "less", families=WITH_MAGNETS),
    Metric("magnet_skin_ratio", "", "", "Shorter side of a magnet piece over its skin depth at the slot harmonic of top speed; above 2 the magnet-loss estimate leaves its range, and further pieces may raise the loss.", 0, 2, families=WITH_MAGNETS),
    Metric("ac_resistance_ratio", "R_ac/R_dc", "", "Phase resistance at top speed over that for direct current, at the rated winding temperature.", 1, 3, "less"),
    Metric("opening_loss_share", "", "%", "Share of the slots' winding loss at top speed that arises in the third of their height nearest to the opening (round strands: spread evenly, 33 %).", 33, 75, "less"),
    Metric("cycle_missed_energy", "", "%", "Share of the cycle's traction energy that the machine cannot deliver.", 0, 5, "less"),
    Metric("cycle_missed_time", "", "%", "Share of the cycle's time at which the demanded torque cannot be reached.", 0, 5, "less"),
    Metric("drag_loss", "P_0", "W", "Iron, magnet and mechanical loss at half of top speed with zero current.", 20, 5000, "less"),
    # --- heat
    Metric("winding_temperature", "theta_w", "degC", "Winding hot spot in steady state at the duty's continuous load; out of reach, winding loss is scaled by torque squared.", 60, 220, "less"),
    Metric("magnet_temperature", "theta_m", "degC", "Magnet temperature in steady state at the duty's continuous load.", 50, 180, "less", families=WITH_MAGNETS),
    Metric("bearing_temperature", "theta_b", "degC", "Temperature of the hotter bearing ring in steady state at the duty's continuous load; the inner ring is as warm as the shaft.", 50, 140, "less"),
    Metric("coolant_pressure_drop", "", "kPa", "Pressure drop of the water jacket's duct, straightened; 0 without a jacket.", 0, 100, "less"),
    Metric("cycle_winding_temperature", "", "degC", "Highest winding hot spot over repeated cycles once settled.", 50, 200, "less"),
    Metric("cycle_magnet_temperature", "", "degC", "Highest magnet temperature over repeated cycles once settled.", 50, 180, "less", families=WITH_MAGNETS),
    Metric("current_density", "J_pk", "A/mm^2", "Conductor current density at the inverter's phase current, rms.", 5, 40, "less"),
    Metric("continuous_current_density", "J_cont", "A/mm^2", "Conductor current density at the continuous torque, rms.", 3, 20, "less"),
    # --- magnets and strength
    Metric("demagnetisation_margin", "", "T", "Magnet flux density along its magnetisation that 2 % of the magnets' area lies below, at peak current against the magnets and the hot (ferrite: the worse of hot and cold) magnet temperature, less the knee; without magnets the grade's remanence less its knee.", -0.5, 0.8, "more", families=WITH_MAGNETS),
    Metric("demagnetisation_margin_short_circuit", "", "T", "The same at the most negative d-axis current after a sudden three-phase short circuit.", -1.0, 0.8, "more", families=WITH_MAGNETS),
    Metric("bridge_safety_factor", "", "", "Yield strength over equivalent stress in bridge or rib, whichever is lower, at overspeed and temperature.", 0.5, 6, "more", families=("interior", "reluctance")),
    Metric("rotor_safety_factor", "", "", "Strength over equivalent stress in the part of the rotor that is nearest to it, at overspeed and temperature: bridges and ribs, sleeve, cage.", 0.5, 6, "more"),
    Metric("burst_speed", "n_burst", "rpm", "Speed at which the mean stress of the part that holds the rotor together reaches its tensile strength.", 5000, 60000, "more"),
    Metric("magnet_retention_factor", "", "", "Glue and friction that hold a magnet in its pocket over the centrifugal force along it, at overspeed; 1000 without magnets.", 1, 1000, "more", families=("interior", "reluctance")),
    Metric("critical_speed", "n_crit", "rpm", "First bending critical speed of the rotor on its bearings.", 5000, 100000, "more"),
    Metric("tip_speed", "v_tip", "m/s", "Rotor surface speed at top speed.", 40, 200),
    Metric("sleeve_safety_factor", "", "", "Strength of the sleeve over its largest hoop stress, from standstill to overspeed, cold and hot; of the glue where there is no sleeve.", 0.5, 10, "more", families=("surface",)),
    Metric("magnet_contact_factor", "", "", "Pressure of the sleeve on the magnets at standstill, hot, over the pressure that keeps them seated at overspeed; the glue's factor where there is no sleeve.", 0, 20, "more", families=("surface",)),
    # --- noise
    Metric("radial_pressure", "p_2p", "kPa", "Largest wave of radial magnetic pressure on the bore of the lowest order that bends the stator, at peak torque: with as many waves as poles, fewer where slots per pole and phase are not whole.", 5, 500, "less", families=("interior", "reluctance")),
    Metric("breathing_frequency", "f_0", "Hz", "Natural frequency of the stator core in its breathing mode, frame left out.", 1000, 20000, "more"),
    Metric("pole_order_frequency", "f_2p", "Hz", "Natural frequency of the stator core in the mode of that order (as many waves as poles, fewer where slots per pole and phase are not whole), frame left out.", 500, 40000, "more"),
    Metric("pole_order_speed", "n_2p", "rpm", "Speed at which the radial-force wave of that order at twice electrical frequency meets that mode.", 5000, 300000, "more"),
    Metric("lowest_force_order", "r_min", "", "Lowest number of waves round the bore of a radial-force wave: as many as poles where slots per pole and phase are whole; 2 and below is known for noise, 1 pulls the rotor to one side.", 1, 24, "more", families=("interior", "reluctance", "surface")),
    Metric("unbalanced_pull", "F_1", "N", "Amplitude of the largest turning force on the rotor by a radial-pressure wave of order 1, at peak torque; 0 where there is none.", 0, 20000, "less", families=("interior", "reluctance")),
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

METRICS: Mapping[str, Metric] = MappingProxyType({m.name: m for m in _METRICS})


def family_metrics(family: str, model: str = "circuit") -> dict[str, Metric]:
    """Return the metrics that a rotor family has by a magnetic model, by name."""
    return {
        n: m
        for n, m in METRICS.items()
        if (not m.families or family in m.families) and (not m.models or model in m.models)
    }


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
