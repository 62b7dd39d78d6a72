"""Numbers of slots and bars known to be noisy, to cog or to have cusps in their torque."""


def slot_bar_conflicts(slots: int, bars: int, poles: int) -> tuple[str, ...]:
    """Return the rules that a combination breaks, in words; empty when it breaks none.

    Parameters
    ----------
    slots, bars, poles : int
        Stator slots, rotor bars, poles (2p).

    Notes
    -----
    The difference S - R should not be 0 or +-1, +-2, +-(P +- 1), +-(P +- 2) (radial forces of low
    order: noise, vibration), 0 or +-k P that is also a multiple of 3 (+-3P: cogging at
    standstill), nor +-P, +-2P, +-5P (cusps in the torque over speed), P being the number of poles.

    References
    ----------
    A. K. Sawhney, *A Course in Electrical Machine Design*, three-phase induction motors, number
    of rotor slots (from memory).
    """
    difference = abs(slots - bars)
    out = []
    if difference in {1, 2, poles - 2, poles - 1, poles + 1, poles + 2}:
        out.append(f"noise: slots and bars differ by {difference}")
    if difference in {0, 3 * poles}:
        out.append(f"cogging: slots and bars differ by {difference}")
    if difference in {poles, 2 * poles, 5 * poles}:
        out.append(f"cusps: slots and bars differ by {difference}")
    return tuple(out)
