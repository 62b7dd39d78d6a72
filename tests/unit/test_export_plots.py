"""Plots: the data step against metrics and models, the drawing step for what it must show."""

from io import BytesIO
from math import pi

import numpy as np
import pytest
from matplotlib import pyplot
from PIL import Image

from models.evaluate import perform_design
from optim.export.context import footer
from optim.export.drive_tables import shaft_envelope
from optim.export.notation import axis_text, metric_text, number_text, parameter_text
from optim.export.pictures import drawings, picture_data
from optim.export.plots.continuous import continuous_torque
from optim.export.plots.efficiency import efficiency_data
from optim.export.plots.figure import png_bytes, svg_text
from optim.export.plots.front import FrontPoint, draw_front, front_data
from optim.export.plots.loss_split import PARTS, loss_split_data
from optim.export.plots.torque_angle import torque_angle_data
from optim.export.plots.torque_speed import torque_speed_data
from optim.export.requirements import dangers, implausible, requirements
from optim.study.model import Limit
from tests.export_case import CONTEXT, DUTY, performance, values


def test_continuous_curve_passes_through_the_ratings():
    speed = np.array([DUTY.base_speed, 0.5 * DUTY.top_speed])
    torque = continuous_torque(performance(), speed)
    assert torque[0] == pytest.approx(values()["continuous_torque"], rel=1e-9)
    assert torque[1] * speed[1] == pytest.approx(values()["continuous_power"], rel=1e-9)


def test_continuous_torque_is_below_peak_torque():
    data = torque_speed_data(performance(), points=14)
    assert np.all(data.continuous <= data.nominal + 1e-3)
    # the machine of the test is limited by heat somewhere
    assert np.any(data.continuous < 0.95 * data.nominal)


def test_torque_split_is_that_of_the_model():
    data = torque_angle_data(performance(), points=13)
    duty = performance().duty
    split = performance().model.torque_split(
        current_peak=duty.supply.current_peak, magnet_temperature=duty.temperatures.magnet_rated
    )
    at = split.angle[::3]
    assert data.angle == pytest.approx(at)
    assert data.magnet == pytest.approx(split.magnet[::3], abs=1e-6)
    # the total is read from the map: interpolation against a solution of its own
    assert data.total == pytest.approx(split.total[::3], abs=0.01 * data.best_torque)
    assert data.magnet + data.reluctance == pytest.approx(data.total)
    assert data.best_torque == pytest.approx(values()["peak_torque"], rel=1e-9)


def test_fine_efficiency_passes_through_the_map():
    grid = performance().grid
    n = 5 * (grid.speed.size - 1) + 1
    fine = efficiency_data(performance(), points=n)
    # Every fifth point is a point of the map; both are computed in different ways.
    found = fine.efficiency[::5, ::5]
    known = grid.efficiency
    turning = (grid.speed[:, None] > 0.0) & (np.abs(grid.share)[None, :] > 0.05)
    assert found[turning] == pytest.approx(known[turning], abs=2e-4)
    assert fine.efficiency.max() < 1.0


def test_loss_cases_are_the_metrics():
    launch, load, cycle = loss_split_data(performance())
    parts = dict(zip(PARTS, cycle.parts))
    time = float(performance().cycle.duration.sum())
    per_metre = time / performance().cycle.distance
    assert cycle.total * per_metre == pytest.approx(values()["cycle_loss"], rel=1e-9)
    iron = values()["cycle_loss_iron"] + values()["cycle_loss_rotor_iron"]
    assert parts["iron"] * per_metre == pytest.approx(iron, rel=1e-9)
    # 3 R I^2 at the rated winding temperature, IEC 60028: 0.393 % per K at 20 degC
    r = values()["phase_resistance"] * (1.0 + 0.00393 * (100.0 - 20.0))
    assert launch.parts[0] == pytest.approx(3.0 * r * 400.0**2, rel=2e-3)
    assert sum(launch.parts[1:]) == pytest.approx(
        0.0, abs=1e-6
    )  # nothing turns, nothing alternates
    assert load.total > 0.0


def test_every_picture_has_units_footer_and_no_global_state():
    foot = footer(CONTEXT, model="circuit")
    for name, draw in drawings(picture_data(performance(), CONTEXT), footer=foot).items():
        figure = draw()
        for axes in figure.axes:
            for text in (axes.get_xlabel(), axes.get_ylabel()):
                assert text == "" or "[" in text, (name, text)
            assert axes.get_xlabel() or axes.get_ylabel(), name
        assert figure.get_supxlabel() == foot
        assert "seed 3" in foot
        assert "Paretorque 0.1.0" in foot
        image = Image.open(BytesIO(png_bytes(figure, dots_per_inch=50)))
        assert len(image.convert("RGB").getcolors(1 << 20) or ()) > 10
    assert pyplot.get_fignums() == []


def test_svg_text_is_repeatable_and_follows_the_page():
    data = picture_data(performance(), CONTEXT)
    draw = drawings(data, footer="f")["torque_angle"]
    assert svg_text(draw(), name="a") == svg_text(draw(), name="a")
    part = svg_text(draw(), name="a", is_page_part=True)
    assert part.startswith("<svg")
    assert "var(--ink)" in part
    assert 'id="figure' not in part


def _points():
    rng = np.random.default_rng(5)
    out = []
    for k in range(60):
        kind = ("front", "feasible", "infeasible", "failed")[k % 4]
        a, b = rng.random(2)
        metrics = {"cost": 300.0 + a, "cycle_loss": 36e3 * b, "magnet_mass": a}
        out.append(FrontPoint(k, kind, {} if kind == "failed" or k == 2 else metrics))
    return out


def test_front_sorts_outcomes_and_keeps_those_without_coordinates():
    data = front_data(_points(), ("cost", "cycle_loss", "magnet_mass"), picked=8)
    marks = {m.outcome: m for m in data.marks}
    assert marks["failed"].placeless.size == 15
    assert marks["infeasible"].placeless.tolist() == [2]
    assert marks["front"].values.shape == (15, 3)
    # J/m to Wh/km
    first = _points()[0].metrics["cycle_loss"]
    assert marks["front"].values[0, 1] == pytest.approx(first / 3600.0 * 1000.0)
    figure = draw_front(data, footer="f")
    panels = [axes for axes in figure.axes if axes.get_ylabel()]
    assert len(panels) == 3
    assert all("[" in axes.get_xlabel() and "[" in axes.get_ylabel() for axes in panels)
    words = [text.get_text() for text in figure.legends[0].get_texts()]
    assert words == ["infeasible (15)", "feasible, dominated (15)", "failed (15)", "front (15)",
                     "candidate 8"]  # fmt: skip


def test_front_without_a_feasible_design_is_drawn():
    points = [FrontPoint(0, "infeasible", {"cost": 1.0, "cycle_loss": 1.0})]
    figure = draw_front(front_data(points, ("cost", "cycle_loss")), footer="f")
    assert len(png_bytes(figure, dots_per_inch=40)) > 1000


def test_front_refuses_what_it_cannot_show():
    with pytest.raises(ValueError, match="at least two"):
        front_data(_points(), ("cost",))
    with pytest.raises(ValueError, match="candidate 99"):
        front_data(_points(), ("cost", "cycle_loss"), picked=99)


def test_requirements_are_sorted_and_told_apart():
    limits = (
        Limit("magnet_mass", "<=", 1.0),
        Limit("peak_torque", ">=", 100.0),
        Limit("cost", "<=", 400.0),
    )
    rows = requirements(limits, {"magnet_mass": 1.1, "peak_torque": 150.0, "cost": 396.0})
    assert [(r.limit.metric, r.state) for r in rows] == [
        ("magnet_mass", "missed"), ("cost", "binds"), ("peak_torque", "met"),
    ]  # fmt: skip
    assert rows[0].margin == pytest.approx(-0.1)
    assert rows[0].bound_text == "≤ 1.000 kg"
    with pytest.raises(LookupError, match="peak_torque"):
        requirements(limits, {"magnet_mass": 1.0, "cost": 1.0})


def test_dangers_and_implausible_values_are_named():
    assert dangers({"bridge_safety_factor": 0.9, "demagnetisation_margin": 0.1})[0].startswith(
        "bridge safety factor 0.900"
    )
    assert dangers({"bridge_safety_factor": 1.0, "demagnetisation_margin": 0.0}) == ()
    assert implausible({"tip_speed": 500.0, "magnet_mass": 1.0}) == ("tip_speed",)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (1.0, "1.000"), (1234.5, "1234"), (0.03598, "0.03598"), (-12.345, "-12.35"),
     (2.5e7, "2.500e+07")],
)  # fmt: skip
def test_numbers(value, text):
    assert number_text(value) == text


def test_texts_carry_the_unit():
    assert metric_text("peak_torque", 197.87) == "197.9 N·m"
    assert metric_text("base_speed", 100.0 * pi) == "3000 r/min"
    assert axis_text("back_emf_line_peak") == "Back EMF line peak [V]"
    assert axis_text("saliency") == "Saliency [-]"
    assert parameter_text("stack_length", 0.14) == "140.0 mm"
    assert parameter_text("slots", 48) == "48"


def test_the_envelope_starts_at_peak_torque():
    drive = performance().drive
    limit = shaft_envelope(drive, np.array([0.0]), 300.0)
    assert limit.torque[0] == pytest.approx(values()["peak_torque"], rel=1e-6)


@pytest.mark.parametrize(
    "changes",
    [
        {"poles": 4, "slots": 36, "conductor": "round", "bore_ratio": 0.6, "parallel_paths": 2,
         "slot_opening_ratio": 0.5, "turns_per_coil": 6, "pitch_shortening": 1,
         "barrier_span_ratio": 0.8},
        {"v_depth_ratio": 0.0},
    ],
)  # fmt: skip
def test_other_machines_are_drawn_too(changes):
    other = perform_design(changes, DUTY)
    for draw in drawings(picture_data(other, CONTEXT), footer="f").values():
        assert len(png_bytes(draw(), dots_per_inch=40)) > 1000
