"""Broken study files: each mistake is found, placed, and answered with what is allowed."""

import pytest

from optim.errors import StudyError
from optim.study.load import LARGEST_FILE, load, loads
from tests.study_example import HARBOUR_VAN, edited, without


def append(table: str, line: str) -> str:
    """Return the study with one more line at the head of a table."""
    return edited((f"[{table}]\n", f"[{table}]\n{line}\n"))


# (text of the file, place of the mistake, words that must stand in its message)
BROKEN: dict[str, tuple[str, str, tuple[str, ...]]] = {
    # --- keys and tables
    "unknown table": (HARBOUR_VAN + "\n[serach]\nseed = 1\n", "serach", ("'search'", "duty")),
    "unknown key": (
        append("duty.supply", "dc_voltge_v = 3"), "duty.supply.dc_voltge_v", ("'dc_voltage_v'",),
    ),
    "missing table": (without("objectives"), "objectives", ("Add this",)),
    "missing key": (
        edited(("phase_current_a = 420\n", "")), "duty.supply.phase_current_a", ("1 to 3000 A",),
    ),
    "same quantity twice": (
        append("duty.supply", 'dc_voltage = "350 V"'), "duty.supply.dc_voltage_v", ("twice",),
    ),
    "table instead of value": (
        edited(("gear_ratio = 10.2", "gear_ratio = { a = 1 }")), "duty.vehicle.gear_ratio",
        ("a table of 1", "a number"),
    ),
    "value instead of table": (
        edited(("[duty.cooling]\ncoolant_flow = \"8 L/min\"", "[duty]\ncooling = 8")),
        "study", ("no TOML",),
    ),
    "no format": (edited(("format = 1\n", "")), "study.format", ("nothing", "1")),
    "newer format": (edited(("format = 1", "format = 2")), "study.format", ("newer version",)),
    "format zero": (edited(("format = 1", "format = 0")), "study.format", ("0",)),
    "bad name": (edited(('"harbour-van"', '"../../etc"')), "study.name", ("etc",)),
    # --- TOML itself
    "duplicate key": (append("search", "budget = 5"), "study", ("no TOML", "line")),
    "syntax": (edited(("seed = 7", "seed = = 7")), "study", ("no TOML", "line")),
    "empty": ("", "study", ("nothing", "[study]")),
    "huge number": (edited(("seed = 7", "seed = " + "9" * 5000)), "study", ("no TOML",)),
    "deep": ("a = " + "[" * 5000, "study", ("nested too deeply",)),
    "endless key": ("\na" + ".a" * 400_000 + " = 1", "study", ("parts",)),
    "endless quoted key": ("[a" + ' . "b"' * 9_000 + "]", "study", ("parts",)),
    "long": ("#" * (LARGEST_FILE + 1), "study", (str(LARGEST_FILE),)),
    # --- units and numbers
    "wrong dimension": (
        edited(("dc_voltage_v = 350", 'dc_voltage_v = "350 A"')), "duty.supply.dc_voltage_v",
        ("'350 A'", "convertible", "V"),
    ),
    "no unit": (
        edited(("dc_voltage_v = 350", 'dc_voltage_v = "350"')), "duty.supply.dc_voltage_v",
        ("with its unit",),
    ),
    "number under a key without unit": (
        edited(('rib_width = { low = "0.8 mm", high = "0.2 cm" }',
                "rib_width = { low = 0.8, high = 2 }")),
        "variables.rib_width.low", ("rib_width_mm",),
    ),
    "frequency as speed": (
        edited(("base_speed_rpm = 3800", 'base_speed = "63 Hz"')), "duty.speeds.base_speed",
        ("angle", "rpm"),
    ),
    "expression": (
        edited(("mass_kg = 2150", 'mass = "9**9**9 kg"')), "duty.vehicle.mass", ("one number",),
    ),
    "nan": (edited(("mass_kg = 2150", "mass_kg = nan")), "duty.vehicle.mass_kg", ("finite",)),
    "infinity": (edited(("mass_kg = 2150", "mass_kg = inf")), "duty.vehicle.mass_kg", ("finite",)),
    "boolean": (edited(("mass_kg = 2150", "mass_kg = true")), "duty.vehicle.mass_kg", ("number",)),
    "date": (
        edited(("mass_kg = 2150", "mass_kg = 2024-01-01")), "duty.vehicle.mass_kg", ("number",),
    ),
    "out of range": (
        edited(("mass_kg = 2150", "mass_kg = 5")), "duty.vehicle.mass_kg", ("50 to 60000 kg",),
    ),
    # --- duty
    "minimum above nominal voltage": (
        edited(('dc_voltage_min = "0.29 kV"', "dc_voltage_min_v = 390")),
        "duty.supply.dc_voltage_min_v", ("390 V", "350 V"),
    ),
    "base speed above top speed": (
        edited(("base_speed_rpm = 3800", "base_speed_rpm = 20000")),
        "duty.speeds.base_speed_rpm", ("top speed",),
    ),
    "no top speed": (
        edited(("top_vehicle_speed_kmh = 140\n", "")), "duty.speeds", ("top_speed_rpm",),
    ),
    "two top speeds": (
        append("duty.speeds", "top_speed_rpm = 12000"), "duty.speeds", ("two top speeds",),
    ),
    "unknown cycle": (edited(('"wltc_3b"', '"wltc_3"')), "duty.cycle", ("'wltc_3b'",)),
    "cycle file as text": (edited(('"wltc_3b"', '"trip.csv"')), "duty.cycle", ("speed_unit",)),
    "cycle file without folder": (
        edited(('"wltc_3b"', '{ file = "trip.csv", speed_unit = "km/h" }')),
        "duty.cycle.file", ("no files",),
    ),
    "cycle that goes back in time": (
        edited(('"wltc_3b"', "{ time_s = [0, 2, 1], speed_m_per_s = [0, 1, 0] }")),
        "duty.cycle", ("increase",),
    ),
    "cycle with text in a column": (
        edited(('"wltc_3b"', '{ time_s = [0, "a"], speed_m_per_s = [0, 1] }')),
        "duty.cycle.time_s[1]", ("number",),
    ),
    "cycle with text in every row": (
        edited(('"wltc_3b"', "{ time_s = [" + '"a",' * 900 + "], speed_m_per_s = [0, 1] }")),
        "duty.cycle.time_s", ("900 wrong entries",),
    ),
    "hot limit": (
        HARBOUR_VAN + "\n[duty.temperatures]\nwinding_rated_degc = 170\n",
        "duty.temperatures.winding_rated_degc", ("winding_limit", "155"),
    ),
    # --- machine and variables
    "unknown family": (edited(('"interior"', '"interor"')), "machine.family", ("'interior'",)),
    "unknown parameter": (
        append("machine", "air_gp_mm = 0.8"), "machine.air_gp_mm", ("'air_gap_mm'",),
    ),
    "unknown material": (
        edited(('"HP270-35A"', '"HP270-35"')), "machine.lamination", ("'HP270-35A'",),
    ),
    "fraction of a slot": (edited(("slots = 48", "slots = 48.5")), "machine.slots", ("whole",)),
    "parameter out of range": (
        edited(("poles = 8", "poles = 80")), "machine.poles", ("24",),
    ),
    "fixed and varied": (
        append("machine", "stack_length_mm = 140"), "variables.stack_length_mm", ("[machine]",),
    ),
    "unknown variable": (
        append("variables", "magnet_thicknes_mm = { low = 1, high = 2 }"),
        "variables.magnet_thicknes_mm", ("'magnet_thickness_mm'",),
    ),
    "low above high": (
        edited(("{ low = 0.6, high = 0.74 }", "{ low = 0.74, high = 0.6 }")),
        "variables.bore_ratio", ("low below high", "Swap"),
    ),
    "low equals high": (
        edited(("{ low = 0.6, high = 0.74 }", "{ low = 0.6, high = 0.6 }")),
        "variables.bore_ratio", ("[machine]",),
    ),
    "bound out of range": (
        edited(("{ low = 0.6, high = 0.74 }", "{ low = 0.6, high = 1.74 }")),
        "variables.bore_ratio.high", ("0.4 to 0.85",),
    ),
    "missing bound": (
        edited(("{ low = 0.6, high = 0.74 }", "{ low = 0.6 }")), "variables.bore_ratio.high",
        ("nothing",),
    ),
    "unknown key of a variable": (
        edited(("{ low = 0.6, high = 0.74 }", "{ low = 0.6, hihg = 0.74 }")),
        "variables.bore_ratio.hihg", ("'high'",),
    ),
    "off the grid": (
        edited(("high = 7, step = 0.5", "high = 7.2, step = 0.5")),
        "variables.magnet_thickness_mm.high", ("whole steps", "7"),
    ),
    "step zero": (
        edited(("high = 7, step = 0.5", "high = 7, step = 0")),
        "variables.magnet_thickness_mm.step", ("mm",),
    ),
    "start outside": (
        edited(("high = 170, start = 140", "high = 170, start = 180")),
        "variables.stack_length_mm.start", ("100 to 170 mm",),
    ),
    "single value": (
        edited(("{ low = 0.6, high = 0.74 }", "0.67")), "variables.bore_ratio", ("[machine]",),
    ),
    "one choice": (
        edited(('["N42SH", "N45SH", "N42UH"]', '["N42SH"]')), "variables.magnet_grade.choices",
        ("2 to 200",),
    ),
    "unknown choice": (
        edited(('"N45SH", ', '"N45S", ')), "variables.magnet_grade.choices[1]", ("'N45SH'",),
    ),
    "choice twice": (
        edited(('"N45SH", ', '"N42SH", ')), "variables.magnet_grade.choices", ("twice",),
    ),
    "span of words": (
        edited(('{ choices = ["N42SH", "N45SH", "N42UH"] }', "{ low = 1, high = 2 }")),
        "variables.magnet_grade.low", ("choices",),
    ),
    # --- objectives and limits
    "unknown objective": (
        append("objectives", 'peak_torqe = "maximise"'), "objectives.peak_torqe",
        ("'peak_torque'",),
    ),
    "unknown sense": (
        edited(('cost = "minimise"', 'cost = "minimize"')), "objectives.cost", ("'minimise'",),
    ),
    "no objectives": (
        without("objectives") + "\n[objectives]\n",
        "objectives", ("at least one metric",),
    ),
    "too many objectives": (
        append("objectives", 'saliency = "maximise"\npower_factor = "maximise"\n'
               'drag_loss = "minimise"'),
        "objectives", ("at most 6",),
    ),
    "unknown limit": (
        append("limits", 'launch_torqu = ">= 2 N*m"'), "limits.launch_torqu", ("'launch_torque'",),
    ),
    "limit without relation": (
        edited(('">= 230 N*m"', '"230 N*m"')), "limits.launch_torque", (">= 12 N*m",),
    ),
    "limit as number": (
        edited(('">= 230 N*m"', "230")), "limits.launch_torque", ("<= or >=",),
    ),
    "limit with wrong unit": (
        edited(('">= 230 N*m"', '">= 230 kW"')), "limits.launch_torque", ("convertible",),
    ),
    "limit without unit": (
        edited(('">= 230 N*m"', '">= 230"')), "limits.launch_torque", ("with its unit",),
    ),
    "contradictory limits": (
        edited(('">= 230 N*m"', '[">= 230 N*m", "<= 200 N*m"]')), "limits.launch_torque",
        ("contradict", "230", "200"),
    ),
    "limit twice": (
        edited(('">= 230 N*m"', '[">= 230 N*m", ">= 200 N*m"]')), "limits.launch_torque",
        ("two limits with >=",),
    ),
    # --- search, model, prices, ranking
    "budget zero": (edited(("budget = 2000", "budget = 0")), "search.budget", ("1",)),
    "budget beyond reason": (
        edited(("budget = 2000", "budget = 20000000000")), "search.budget", ("10000000",),
    ),
    "population above budget": (
        append("search", "population = 3000"), "search.population", ("2000", "budget"),
    ),
    "unknown algorithm": (
        append("search", 'algorithm = "nsga-2"'), "search.algorithm", ("'nsga2'",),
    ),
    "unknown model": (
        HARBOUR_VAN + '\n[model]\nname = "circiut"\n', "model.name", ("'circuit'",),
    ),
    "negative seed": (edited(("seed = 7", "seed = -7")), "search.seed", ("0",)),
    "unknown price": (
        HARBOUR_VAN + "\n[prices]\nunobtainium = 3\n", "prices.unobtainium", ("unknown price",),
    ),
    "price as text": (
        HARBOUR_VAN + '\n[prices]\ncopper = "8 EUR"\n', "prices.copper", ("EUR per kg",),
    ),
    "price list without folder": (
        HARBOUR_VAN + '\n[prices]\nlist = "spring.toml"\n', "prices.list", ("no files",),
    ),
    "weight of no objective": (
        append("ranking.weights", "saliency = 1"), "ranking.weights.saliency", ("peak_torque",),
    ),
    "negative weight": (
        edited(("[ranking.weights]\ncost = 2", "[ranking.weights]\ncost = -2")),
        "ranking.weights.cost", ("0 to",),
    ),
    "empty range": (
        edited(("peak_torque_nm = [200, 320]", "peak_torque_nm = [200, 200]")),
        "ranking.ranges.peak_torque_nm", ("different",),
    ),
    "goal with wrong unit": (
        HARBOUR_VAN + '\n[ranking.goals]\npeak_torque = "3 kg"\n', "ranking.goals.peak_torque",
        ("convertible",),
    ),
}  # fmt: skip


def test_the_list_is_as_long_as_it_claims() -> None:
    assert len(BROKEN) >= 40


@pytest.mark.parametrize("name", BROKEN)
def test_broken_file_gets_a_clear_answer(name: str) -> None:
    text, where, words = BROKEN[name]
    with pytest.raises(StudyError) as caught:
        loads(text)
    problems = caught.value.problems
    found = [p for p in problems if p.where == where]
    assert found, f"nothing at {where}; found {[str(p) for p in problems]}"
    message = " ".join(str(p) for p in found)
    for word in words:
        assert word in message
    if name not in ("empty", "cycle with text in every row"):
        assert len(problems) <= 2  # one mistake is not echoed all over the file
    assert all(p.given and p.allowed for p in problems)


def test_all_mistakes_of_a_file_come_at_once() -> None:
    text = edited(
        ("dc_voltage_v = 350", "dc_voltge_v = 350"),
        ("mass_kg = 2150", "mass_kg = -1"),
        ("slots = 48", "slots = 47.5"),
        ("{ low = 0.6, high = 0.74 }", "{ low = 0.74, high = 0.6 }"),
        ('cost = "minimise"', 'cost = "cheap"'),
        ('">= 230 N*m"', '">= 230 kW"'),
        ("seed = 7", "seed = -7"),
        ("[ranking.ranges]\n", "[ranking.ranges]\nsaliency = [1, 2]\n"),
    )
    with pytest.raises(StudyError) as caught:
        loads(text, source="van.toml")
    places = {p.where for p in caught.value.problems}
    assert places >= {
        "duty.supply.dc_voltge_v", "duty.supply.dc_voltage_v", "duty.vehicle.mass_kg",
        "machine.slots", "variables.bore_ratio", "objectives.cost", "limits.launch_torque",
        "search.seed", "ranking.ranges.saliency",
    }  # fmt: skip
    assert str(caught.value).startswith(f"van.toml: {len(caught.value.problems)} mistakes\n")


def test_mistakes_carry_the_line_they_stand_on() -> None:
    text = edited(("mass_kg = 2150", "mass_kg = -1"), ("seed = 7", "seed = -7"))
    with pytest.raises(StudyError) as caught:
        loads(text)
    lines = text.splitlines()
    for problem in caught.value.problems:
        assert problem.line is not None
        assert problem.where.split(".")[-1] in lines[problem.line - 1]


def test_error_survives_pickling() -> None:
    import pickle

    with pytest.raises(StudyError) as caught:
        loads("")
    copy = pickle.loads(pickle.dumps(caught.value))
    assert copy.problems == caught.value.problems
    assert str(copy) == str(caught.value)


def test_unreadable_paths_are_study_errors(tmp_path) -> None:
    with pytest.raises(StudyError, match="cannot be read"):
        load(tmp_path / "nothing.toml")
    with pytest.raises(StudyError, match="cannot be read"):
        load(tmp_path)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(StudyError, match="UTF-8"):
        load(binary)


@pytest.mark.parametrize("name", ["../trip.csv", "/etc/passwd", "..\\\\trip.csv", "gone.csv", "."])
def test_named_files_stay_in_the_folder(tmp_path, name: str) -> None:
    (tmp_path / "trip.csv").write_text("0,0\n1,1\n")
    folder = tmp_path / "studies"
    folder.mkdir()
    text = edited(('"wltc_3b"', f'{{ file = "{name}", speed_unit = "km/h" }}'))
    (folder / "van.toml").write_text(text)
    with pytest.raises(StudyError, match="folder"):
        load(folder / "van.toml")


def test_link_out_of_the_folder_is_refused(tmp_path) -> None:
    (tmp_path / "trip.csv").write_text("0,0\n1,1\n")
    folder = tmp_path / "studies"
    folder.mkdir()
    (folder / "trip.csv").symlink_to(tmp_path / "trip.csv")
    text = edited(('"wltc_3b"', '{ file = "trip.csv", speed_unit = "km/h" }'))
    with pytest.raises(StudyError, match="folder"):
        loads(text, folder=folder)
