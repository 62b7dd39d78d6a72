"""The lowest magnet field of a rotor with layers of barriers."""

from math import atan2, dist, pi

from models.circuit.barrier_faces import magnet_parts
from models.circuit.network import Array
from models.circuit.pocket_corner import LOW_SHARE, channel_amplification
from models.machine import Barrier, LayeredRotor, Machine, rotor_as

Point = tuple[float, float]


def lowest_field_in_layers(machine: Machine, field: Array, remanence: float) -> float:
    """Return the flux density along the magnetisation that 2 % of the magnets lie below [T].

    Parameters
    ----------
    machine : Machine
    field : ndarray, shape (..., n_segments)
        Mean of every magnet segment at every position [T].
    remanence : float
        [T].

    Returns
    -------
    float
        The lowest over the barriers; without magnets the remanence, as nothing opposes it.

    Notes
    -----
    The network gives the mean of each magnet part. Where a magnet reaches the barrier's bend, the
    opposing field at its end is raised by the corner, see `channel_amplification`; the 2 % are of
    all magnets' area, so they are a larger share of one barrier's.
    """
    barriers = rotor_as(machine, LayeredRotor).barriers
    area = [b.magnet_width * b.magnet_thickness for b in barriers]
    lowest = remanence
    place = 0
    for _side in range(2):
        for barrier, own in zip(barriers, area):
            count = magnet_parts(barrier)
            if count == 0:
                continue
            part = float(field[..., place : place + count].min())
            place += count
            share = min(LOW_SHARE * sum(area) / own, 1.0)
            factor = end_amplification(barrier, share)
            lowest = min(lowest, part - max(0.0, remanence - part) * (factor - 1.0))
    return lowest


def end_amplification(barrier: Barrier, share: float) -> float:
    """Return how much the bend raises the opposing field at the end of a barrier's magnet.

    Parameters
    ----------
    barrier : Barrier
        With a magnet.
    share : float
        Share of the magnet's area, 0..1.
    """
    _, bend, near = barrier.gap_face
    _, bend_shaft, far = barrier.shaft_face
    gap_in, gap_out, shaft_out, _ = barrier.magnet_corners
    width, thickness = barrier.magnet_width, barrier.magnet_thickness
    along = ((gap_out[0] - gap_in[0]) / width, (gap_out[1] - gap_in[1]) / width)
    outward = (
        (gap_out[0] - shaft_out[0]) / thickness,
        (gap_out[1] - shaft_out[1]) / thickness,
    )

    def turn(start: Point, end: Point) -> float:
        x, y = end[0] - start[0], end[1] - start[1]
        return atan2(x * outward[0] + y * outward[1], x * along[0] + y * along[1]) / pi

    ahead = (bend[0] - bend_shaft[0]) * along[0] + (bend[1] - bend_shaft[1]) * along[1]
    return channel_amplification(
        turn(bend, near), turn(bend_shaft, far), length=width / thickness, share=share,
        ahead=ahead / thickness, gap=dist(gap_out, bend) / thickness,
    )  # fmt: skip
