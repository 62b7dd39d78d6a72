"""Stress-concentration factors of fillets: Heywood's forms."""


def foot_factor(width: float, depth: float, radius: float) -> float:
    """Return the factor in the fillet at the foot of a rib on a bar that is pulled lengthwise.

    Parameters
    ----------
    width : float
        Width of the rib along the bar [m].
    depth : float
        Depth of the bar under the rib [m].
    radius : float
        Fillet [m].

    Returns
    -------
    float
        Heywood's form for a shoulder in tension, the bar being half of one with a rib on either
        side. A narrow shoulder counts as a bar of depth D_x = d + 0.3 width, however far it
        stands out (Heywood, in Peterson; from memory).
    """
    return fillet_factor(2.0 * depth, 0.15 * width, radius)


def fillet_factor(width: float, step: float, radius: float) -> float:
    """Return Heywood's stress-concentration factor of a stepped flat bar in tension.

    Parameters
    ----------
    width : float
        Width d of the narrow part [m].
    step : float
        Height of the shoulder on each side, (D - d) / 2 [m].
    radius : float
        Fillet radius [m].

    Returns
    -------
    float
        1 + (h / (r (2.8 D/d - 2)))^0.65.
    """
    ratio = 1.0 + 2.0 * step / width
    return float(1.0 + (step / (radius * (2.8 * ratio - 2.0))) ** 0.65)


def bending_factor(width: float, step: float, radius: float) -> float:
    """Return Heywood's factor in bending, 1 + (h / (r (5.37 D/d - 4.8)))^0.85."""
    ratio = 1.0 + 2.0 * step / width
    return float(1.0 + (step / (radius * (5.37 * ratio - 4.8))) ** 0.85)
