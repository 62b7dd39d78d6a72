"""Numbers, durations and curves as text for a terminal."""

import math
from collections.abc import Mapping, Sequence

from models.nomenclature import METRICS
from optim.export.notation import metric_text
from optim.ranking.binding import Margin

_BLOCKS = "▁▂▃▄▅▆▇█"
_ASCII = "_.-~=+*#"


def count_text(count: int) -> str:
    """Return a whole number with thousands apart."""
    return f"{count:,}"


def share_text(part: float, whole: float) -> str:
    """Return a share in percent, or a dash of nothing."""
    if whole <= 0:
        return "-"
    share = 100.0 * part / whole
    return f"{share:.1f} %" if 0.0 < share < 10.0 else f"{share:.0f} %"


def rate_text(rate: float) -> str:
    """Return a speed of evaluations [1/s]."""
    if not math.isfinite(rate):
        return "-"
    return f"{rate:.0f} /s" if rate >= 10.0 else f"{rate:.2g} /s"


def duration_text(seconds: float) -> str:
    """Return a time [s] in the two largest units that matter."""
    if not math.isfinite(seconds):
        return "not known yet"
    if seconds < 1.0:
        return f"{1e3 * seconds:.0f} ms"
    if seconds < 10.0:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    return f"{whole // 3600} h {whole % 3600 // 60:02d} min"


def curve_text(points: Sequence[tuple[float, float]], width: int, *, is_ascii: bool = False) -> str:
    """Return a curve as one line of blocks, 0 at the bottom, its largest value at the top.

    Parameters
    ----------
    points : sequence of (float, float)
        Abscissa and value >= 0, abscissa rising.
    width : int
        Characters.
    is_ascii : bool
        Whether to keep to seven bits.
    """
    blocks = _ASCII if is_ascii else _BLOCKS
    top = max((value for _, value in points), default=0.0)
    if top <= 0.0 or width < 1:
        return blocks[0] * max(width, 0) if points else ""
    first, last = points[0][0], points[-1][0]
    out, k = [], 0
    for column in range(width):
        # The newest value at or before the column's right edge.
        edge = first + (last - first) * (column + 1) / width
        while k + 1 < len(points) and points[k + 1][0] <= edge * (1.0 + 1e-12):
            k += 1
        out.append(blocks[min(len(blocks) - 1, int(points[k][1] / top * len(blocks)))])
    return "".join(out)


def bar_text(share: float, width: int, *, is_ascii: bool = False) -> str:
    """Return a share from 0 to 1 as a bar of `width` characters."""
    filled = round(min(max(share, 0.0), 1.0) * width)
    full, empty = ("#", ".") if is_ascii else ("■", "·")
    return full * filled + empty * (width - filled)


def in_words(metrics: Mapping[str, float], margins: Sequence[Margin]) -> list[str]:
    """Return in three lines how a design makes its torque and which limits bind it."""
    peak = metrics["peak_torque"]
    torque = f"peak torque {metric_text('peak_torque', peak)}"
    if "reluctance_share" in metrics:  # a cage's torque is not parted in two
        share = metrics["reluctance_share"]
        torque += (
            f": magnets {metric_text('peak_torque', peak * (1.0 - share))}, reluctance "
            f"{metric_text('peak_torque', peak * share)}"
        )
    binding = [margin.limit.metric for margin in margins if margin.binds]
    speed = METRICS["base_speed"].shown(metrics["base_speed"])
    return [
        torque,
        f"held up to {speed:.0f} r/min; at top speed "
        f"{metric_text('top_speed_power', metrics['top_speed_power'])} are left",
        "binding: " + (", ".join(binding) if binding else "no limit"),
    ]
