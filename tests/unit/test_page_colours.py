"""The page's stylesheet: the palette's colours, and text that can be read."""

import re
from pathlib import Path

import pytest

from optim.export import palette
from optim.export.plots.front import FAMILY_LOOKS

WEB = Path(palette.__file__).parents[1] / "service" / "web"
SHEET = (WEB / "sheet.css").read_text("utf-8")
_BLOCK = re.compile(r":root\s*\{(.*?)\}", re.DOTALL)
CONTRAST = 4.5
"""Of text against what is behind it: WCAG 2.2, success criterion 1.4.3, level AA."""


def variables(dark: bool) -> dict[str, str]:
    """Return the colours in force."""
    blocks = _BLOCK.findall(SHEET)
    assert len(blocks) == 2
    light, night = (dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6})", b)) for b in blocks)
    return {**light, **night} if dark else light


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2."""
    shares = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    """Return the contrast ratio of WCAG 2.2."""
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_21():
    # WCAG 2.2: ratios range from 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("dark", [False, True])
def test_the_sheet_has_the_palettes_colours(dark):
    found = variables(dark)
    for colour, name in palette.PAGE_NAMES.items():
        assert found[name] == (palette.DARK[colour] if dark else colour), name


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(
    ("text", "behind"),
    [("ink", "paper"), ("ink", "ground"), ("ink", "wash"), ("soft-ink", "paper"),
     ("soft-ink", "ground"), ("accent", "paper"), ("accent", "ground"), ("on-accent", "accent"),
     ("warning", "paper"), ("paper", "ink"), ("near", "paper")],
)  # fmt: skip
def test_text_can_be_read(dark, text, behind):
    found = variables(dark)
    assert contrast(found[text], found[behind]) >= CONTRAST


@pytest.mark.parametrize("part", palette.PART_COLOURS)
def test_every_part_of_a_section_follows_light_and_dark(part):
    rules = re.findall(r"\.section-drawing ([^{]+)\{\s*fill: var\(--([a-z-]+)\)", SHEET)
    found = {name: colour for rule, colour in rules for name in re.findall(r"\.([a-z-]+)", rule)}
    wanted = palette.PAGE_NAMES[palette.PART_COLOURS[part]]
    assert found.get(part.replace("_", "-")) == wanted


def test_a_family_has_the_colour_of_exported_plots():
    table = re.search(
        r"const FORMS = \{(.*?)\n\};", (WEB / "marks.js").read_text("utf-8"), re.DOTALL
    )
    drawn = dict(re.findall(r'(\w+): \{ path: .*?colour: "--([a-z-]+)"', table[1]))
    legend = dict(re.findall(r"\.mark\.member-(\w+) path \{ fill: var\(--([a-z-]+)\)", SHEET))
    exported = {name: palette.PAGE_NAMES[colour] for name, (_, colour) in FAMILY_LOOKS.items()}
    assert drawn == legend == exported
