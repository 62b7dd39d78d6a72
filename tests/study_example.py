"""An invented study for the tests: a delivery van for a harbour town."""

HARBOUR_VAN = """\
# A delivery van for a harbour town, 350 V, one motor at the rear axle. Invented.
[study]
format = 1
name = "harbour-van"
title = "Harbour van, 350 V, rear axle"

[duty]
cycle = "wltc_3b"
launch_time_s = 10

[duty.supply]
dc_voltage_v = 350
dc_voltage_min = "0.29 kV"
phase_current_a = 420

[duty.vehicle]
mass_kg = 2150
f0_n = 190
f1_n_per_kmh = 0.6
f2_n_per_kmh2 = 0.046
wheel_radius_mm = 330
gear_ratio = 10.2

[duty.speeds]
top_vehicle_speed_kmh = 140
base_speed_rpm = 3800
continuous_speed_rpm = 5000
continuous_torque_nm = 85

[duty.cooling]
coolant_flow = "8 L/min"

[machine]
family = "interior"
stator_outer_diameter_mm = 205
slots = 48
poles = 8
lamination = "HP270-35A"

[variables]
stack_length_mm = { low = 100, high = 170, start = 140 }
bore_ratio = { low = 0.6, high = 0.74 }
slot_depth_ratio = { low = 0.45, high = 0.7 }
tooth_width_ratio = { low = 0.42, high = 0.62 }
turns_per_coil = { low = 2, high = 5 }
magnet_grade = { choices = ["N42SH", "N45SH", "N42UH"] }
magnet_thickness_mm = { low = 3, high = 7, step = 0.5 }
barrier_span_ratio = { low = 0.7, high = 0.93 }
v_depth_ratio = { low = 0.1, high = 0.9 }
bridge_thickness_mm = { low = 0.8, high = 2.2 }
rib_width = { low = "0.8 mm", high = "0.2 cm" }

[objectives]
cost = "minimise"
peak_torque = "maximise"
cycle_efficiency = "maximise"
magnet_mass = "minimise"

[limits]
launch_torque = ">= 230 N*m"
torque_at_base_speed = ">= 220 Nm"
top_speed_power = ">= 70 kW"
back_emf_line_peak = "<= 480 V"
demagnetisation_margin = ">= 0 T"
bridge_safety_factor = [">= 1.3", "<= 8"]
winding_temperature_degc = "<= 150"
magnet_temperature = "<= 120 degC"
continuous_current_density = "<= 9 A/mm2"

[search]
budget = 2000
seed = 7

[ranking.weights]
cost = 2
peak_torque = 1
cycle_efficiency = 1
magnet_mass = 1

[ranking.ranges]
cost = ["150 EUR", "450 EUR"]
peak_torque_nm = [200, 320]
"""


def without(table: str) -> str:
    """Return the study without one of its tables."""
    head, _, rest = HARBOUR_VAN.partition(f"[{table}]\n")
    assert rest, f"no table [{table}] in the study"
    start = rest.find("\n[")
    return head + (rest[start + 1 :] if start >= 0 else "")


def edited(*changes: tuple[str, str]) -> str:
    """Return the study with pieces of its text replaced; each piece must stand in it once."""
    text = HARBOUR_VAN
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the study"
        text = text.replace(old, new)
    return text
