"""The section of one sector as a stand-alone SVG with true arcs, in millimetres."""

from math import atan, hypot, pi, sin
from xml.sax.saxutils import escape

from models.geometry.section import Outline
from optim.export import palette
from optim.export.section_view import MM, Dimension, SectionView, upright

_MARGIN = 5.0
_LIST_WIDTH = 66.0
_LINE = 5.0
_MARK = 2.1
"""Radius of the circle round a dimension's letter [mm]."""
_FONT = "font-family=\"'DejaVu Sans', 'Liberation Sans', sans-serif\""


def section_svg(view: SectionView, *, title: str, foot: str, is_annotated: bool = True) -> str:
    """Return the picture of the section.

    Parameters
    ----------
    view : SectionView
        What to show.
    title, foot : str
        Line for screen readers and at the top; line at the foot.
    is_annotated : bool
        With title, foot, letters of dimensions and their list, or the bare picture with arrows
        and phases.

    Returns
    -------
    str
        SVG 1.1 text; one user unit is one millimetre.
    """
    x_min, x_max, y_min, y_max = view.bounds
    top = 12.0 if is_annotated else 2.0
    margin = _MARGIN if is_annotated else 2.0
    side = _LIST_WIDTH if is_annotated else 0.0
    height = y_max - y_min + top + (_MARGIN + 6.0 if is_annotated else margin)
    if is_annotated:
        height = max(height, top + _LINE * (len(view.dimensions) + 5) + 6.0)
    width = x_max - x_min + 2.0 * margin + side
    # screen = (x - x_min + margin, y_max - y + top)
    shift = (margin - x_min, y_max + top)
    body = [*_parts(view, shift), *_arrows(view, shift), *_phases(view, shift)]
    if is_annotated:
        body += _notes(view, shift, left=x_max - x_min + 2.0 * margin, top=top)
        body.append(_text(_MARGIN, 6.5, title, size=4.0, colour=palette.INK))
        body.append(_text(_MARGIN, height - 3.0, foot, size=2.6, colour=palette.SOFT_INK))
    background = (
        [f'<rect width="{width:.3f}" height="{height:.3f}" fill="{palette.PAPER}"/>']
        if is_annotated
        else []
    )
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" '
            f'height="{height:.3f}mm" viewBox="0 0 {width:.3f} {height:.3f}" role="img">',
            f"<title>{escape(title)}</title>",
            *background,
            *body,
            "</svg>\n",
        ]
    )


def path_of(loop: Outline, shift: tuple[float, float]) -> str:
    """Return a loop as SVG path data [mm], d axis upwards."""
    points = [upright(MM * x, MM * y) for x, y in loop.points]
    screen = [(x + shift[0], shift[1] - y) for x, y in points]
    out = [f"M{screen[0][0]:.4f} {screen[0][1]:.4f}"]
    for k, bulge in enumerate(loop.bulges):
        (x0, y0), (x1, y1) = screen[k], screen[(k + 1) % len(screen)]
        if bulge == 0.0:
            out.append(f"L{x1:.4f} {y1:.4f}")
            continue
        sweep = 4.0 * atan(bulge)
        radius = hypot(x1 - x0, y1 - y0) / (2.0 * sin(abs(sweep) / 2.0))
        # SVG's y axis points down: its positive sweep runs clockwise to the eye.
        out.append(
            f"A{radius:.4f} {radius:.4f} 0 {int(abs(sweep) > pi)} {int(bulge < 0.0)} "
            f"{x1:.4f} {y1:.4f}"
        )
    return "".join(out) + "Z"


def _parts(view: SectionView, shift: tuple[float, float]) -> list[str]:
    out = []
    for part in view.parts:
        data = "".join(path_of(loop, shift) for loop in part.loops)
        out.append(
            f'<path class="{part.part.replace("_", "-")}" d="{data}" fill-rule="evenodd" '
            f'fill="{palette.PART_COLOURS[part.part]}" stroke="{palette.SOFT_INK}" '
            f'stroke-width="0.12"/>'
        )
    if view.conductors:
        data = "".join(path_of(loop, shift) for loop in view.conductors)
        out.append(f'<path class="conductors" d="{data}" fill="{palette.CONDUCTOR}"/>')
    else:
        slots = next(p for p in view.parts if p.part == "slot_conductors")
        data = "".join(path_of(loop, shift) for loop in slots.loops)
        out.append(
            f'<path class="conductors" d="{data}" fill="{palette.CONDUCTOR}" '
            f'fill-opacity="0.85" stroke="{palette.PAPER}" stroke-width="0.5"/>'
        )
    return out


def _arrows(view: SectionView, shift: tuple[float, float]) -> list[str]:
    out = []
    for (x0, y0), (x1, y1) in view.arrows:
        length = hypot(x1 - x0, y1 - y0)
        ux, uy = (x1 - x0) / length, (y1 - y0) / length
        head = 0.45 * length
        bx, by = x1 - head * ux, y1 - head * uy
        corners = [(x1, y1)] + [(bx - s * 0.5 * head * uy, by + s * 0.5 * head * ux)
                                for s in (1.0, -1.0)]  # fmt: skip
        tip = " ".join(f"{x + shift[0]:.3f},{shift[1] - y:.3f}" for x, y in corners)
        out.append(
            f'<path class="magnetisation" d="M{x0 + shift[0]:.3f} {shift[1] - y0:.3f}'
            f'L{bx + shift[0]:.3f} {shift[1] - by:.3f}" stroke="{palette.MAGNET}" '
            f'stroke-width="0.5"/><polygon points="{tip}" fill="{palette.MAGNET}"/>'
        )
    return out


def _phases(view: SectionView, shift: tuple[float, float]) -> list[str]:
    out = []
    for letter in view.phases:
        words = letter.text.split(" ")
        for k, word in enumerate(words):
            drop = (k - 0.5 * (len(words) - 1)) * 1.1 * view.letter_size
            y = shift[1] - letter.y + drop + 0.35 * view.letter_size
            out.append(
                _text(letter.x + shift[0], y, word, size=view.letter_size, colour=palette.INK,
                      anchor="middle")
            )  # fmt: skip
    return out


def _notes(view: SectionView, shift: tuple[float, float], *, left: float, top: float) -> list[str]:
    out = []
    y = top + 2.0
    for d in view.dimensions:
        if d.place is not None:
            x, y_at = d.place[0] + shift[0], shift[1] - d.place[1]
            x_letter, y_letter = x + d.away[0], y_at - d.away[1]
            out.append(
                f'<path d="M{x:.3f} {y_at:.3f}L{x_letter:.3f} {y_letter:.3f}" '
                f'stroke="{palette.INK}" stroke-width="0.2"/>'
                f'<circle cx="{x:.3f}" cy="{y_at:.3f}" r="0.35" fill="{palette.INK}"/>'
            )
            out += _mark(d, x_letter, y_letter)
            out += _mark(d, left + _MARK, y - 1.1)
        out.append(_text(left + 7.0, y, d.name, size=2.9, colour=palette.INK))
        out.append(
            _text(left + _LIST_WIDTH - 4.0, y, d.text, size=2.9, colour=palette.INK, anchor="end")
        )
        y += _LINE
    y += 1.5
    for colour, text in (
        (palette.CONDUCTOR, "conductors; + is current towards the reader"),
        (palette.MAGNET_LIGHT, "magnets; arrow: magnetisation"),
        (palette.STATOR_IRON, "stator sheet"),
        (palette.ROTOR_IRON, f"rotor sheet; {view.upward} upwards"),
    ):
        out.append(f'<rect x="{left:.2f}" y="{y - 2.6:.2f}" width="4.2" height="3.2" '
                   f'fill="{colour}"/>')  # fmt: skip
        out.append(_text(left + 7.0, y, text, size=2.6, colour=palette.SOFT_INK))
        y += 4.4
    return out


def _mark(dimension: Dimension, x: float, y: float) -> list[str]:
    return [
        f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{_MARK}" fill="{palette.PAPER}" '
        f'stroke="{palette.INK}" stroke-width="0.2"/>',
        _text(x, y + 0.95, dimension.letter, size=2.6, colour=palette.INK, anchor="middle"),
    ]


def _text(x: float, y: float, text: str, *, size: float, colour: str, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.3f}" y="{y:.3f}" font-size="{size:.2f}" {_FONT} fill="{colour}" '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )
