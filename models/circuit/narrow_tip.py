"""The tip of a narrow tooth: two cells are enough where several slots stand to a pole."""

from models.circuit.network import NetworkBuilder, centre_gradient
from models.circuit.tooth import Tooth
from models.circuit.tooth_faces import Faces
from models.geometry.stator import tooth_width
from models.machine import Stator


def add_narrow_tip(
    builder: NetworkBuilder,
    stator: Stator,
    faces: Faces,
    tooth: Tooth,
) -> None:
    """Add the tip of a tooth as two quadrilaterals beside its centre line.

    Notes
    -----
    They carry the tooth's radial flux and, across it, the leakage that passes from slot to slot
    through the openings and along the gap; the openings' nodes stand for the tooth's edges. The
    potential on the centre line below the tip is the mean of the slot tops beside it.
    """
    edge = 0.5 * (stator.bore_radius * stator.slot_pitch - stator.slot_opening)
    root = 0.5 * tooth_width(stator, stator.body_inner_radius)
    height = stator.tip_height + stator.wedge_height
    (first, last), (left, right), sign = tooth.openings, tooth.top, tooth.sign
    (centre,) = faces.of_tooth(tooth.number)
    rows, area = centre_gradient(((edge, 0.0), (0.0, 0.0), (0.0, height), (root, height)))
    for outer, own, other, s_outer, s_own, s_other in (
        (first, left, right, 1.0, 1.0, sign),
        (last, right, left, sign, sign, 1.0),
    ):
        cells = [
            [
                (outer, s_outer * g[0]),
                (centre, g[1]),
                (own, s_own * (0.5 * g[2] + g[3])),
                (other, s_other * 0.5 * g[2]),
            ]
            for g in rows
        ]
        builder.iron("tip", area, cells[0], cells[1])
