"""A colour map of palette colours whose equal steps look equally large."""

from collections.abc import Sequence

import numpy as np
from matplotlib.colors import ListedColormap, to_rgb
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
     [0.0193339, 0.1191920, 0.9503041]]
)  # fmt: skip
_WHITE = np.array([0.95047, 1.0, 1.08883])


def lab_of(rgb: ArrayLike) -> Array:
    """Return CIE L*a*b* of sRGB colours (0 to 1), shape (..., 3).

    References
    ----------
    IEC 61966-2-1 (sRGB, D65) and CIE 15 (L*a*b*); constants from memory.
    """
    c = np.asarray(rgb, dtype=float)
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    xyz = linear @ _TO_XYZ.T / _WHITE
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16.0 / 116.0)
    return np.stack(
        (
            116.0 * f[..., 1] - 16.0,
            500.0 * (f[..., 0] - f[..., 1]),
            200.0 * (f[..., 1] - f[..., 2]),
        ),
        axis=-1,
    )


def rgb_of(lab: ArrayLike) -> Array:
    """Return sRGB of CIE L*a*b* colours, cut to 0..1: the inverse of `lab_of`."""
    values = np.asarray(lab, dtype=float)
    fy = (values[..., 0] + 16.0) / 116.0
    f = np.stack((fy + values[..., 1] / 500.0, fy, fy - values[..., 2] / 200.0), axis=-1)
    xyz = np.where(f > 0.206893, f**3, (f - 16.0 / 116.0) / 7.787) * _WHITE
    linear = np.clip(xyz @ np.linalg.inv(_TO_XYZ).T, 0.0, 1.0)
    out: Array = np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055
    )
    return out


def even_map(colours: Sequence[str], *, steps: int = 256) -> ListedColormap:
    """Return a map through colours with equal distances in L*a*b* from step to step.

    Parameters
    ----------
    colours : sequence of str
        Hexadecimal colours from low to high, each darker than the one before.
    steps : int
        Colours of the map.
    """
    corners = lab_of([to_rgb(c) for c in colours])
    path = np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(corners, axis=0), axis=1))))
    place = np.linspace(0.0, path[-1], steps)
    lab = np.stack([np.interp(place, path, corners[:, k]) for k in range(3)], axis=-1)
    return ListedColormap(rgb_of(lab))
