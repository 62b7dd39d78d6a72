"""An invented study of two rotor families for the tests: the harbour town's van once more."""

from tests.study_example import HARBOUR_VAN

_LOOSER = (
    ('">= 230 N*m"', '">= 100 N*m"'), ('">= 220 Nm"', '">= 100 Nm"'), ('">= 70 kW"', '">= 20 kW"'),
    ('"<= 480 V"', '"<= 1200 V"'), ('"<= 150"', '"<= 220"'), ('"<= 120 degC"', '"<= 200 degC"'),
    ('"<= 9 A/mm2"', '"<= 20 A/mm2"'), ('rotor_safety_factor = ">= 1.1"',
                                        'rotor_safety_factor = ">= 0.7"'),
)  # fmt: skip


def two_families(*, budget: int = 2000, is_loose: bool = False) -> str:
    """Return the study with a buried-magnet and a surface-magnet rotor in one contest.

    With `is_loose` its limits let even a few random designs pass.
    """
    head, _, rest = HARBOUR_VAN.partition("[machine]\n")
    tail = rest[rest.index("[objectives]") :]
    tail = tail.replace('demagnetisation_margin = ">= 0 T"\n', "")
    tail = tail.replace('bridge_safety_factor = [">= 1.3", "<= 8"]',
                        'rotor_safety_factor = ">= 1.1"\nbridge_safety_factor = "<= 8"\n'
                        'magnet_contact_factor = ">= 1"')  # fmt: skip
    tail = tail.replace("budget = 2000", f"budget = {budget}\npopulation = 8\nlag = 8")
    for old, new in _LOOSER if is_loose else ():
        tail = tail.replace(old, new)
    return head + _TABLES + tail


_TABLES = """\
[machine]
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
magnet_thickness_mm = { low = 3, high = 7, step = 0.5 }

[families.interior.variables]
barrier_span_ratio = { low = 0.7, high = 0.93 }
v_depth_ratio = { low = 0.1, high = 0.9 }
bridge_thickness_mm = { low = 0.8, high = 2.2 }
rib_width = { low = "0.8 mm", high = "0.2 cm" }

[families.surface.machine]
magnetisation = "parallel"
shaft_ratio = 0.4

[families.surface.variables]
magnet_arc_ratio = { low = 0.6, high = 0.95 }
sleeve_thickness_mm = { low = 0.8, high = 2.0 }

"""
