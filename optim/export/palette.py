"""The one set of colours of every drawing, plot and page, told apart in grey print too.

A colour stands for a part throughout: winding and its loss are clay, magnets and what they give
are plum, iron and what it gives are stone greys, the rest is moss.
"""

PAPER = "#fcfbf7"
INK = "#2a2f2c"
SOFT_INK = "#67706b"
GRID = "#dcdcd3"

STATOR_IRON = "#cfd2cb"
ROTOR_IRON = "#bcc1b9"
SHAFT = "#e3e3dc"
CONDUCTOR = "#b5603c"
CONDUCTOR_LIGHT = "#dda583"
MAGNET = "#6b3f70"
MAGNET_LIGHT = "#b596ba"
IRON = "#7d8781"
MOSS = "#5f7a43"
WARNING = "#a3262a"

LOSS_COLOURS = {
    "winding_dc": CONDUCTOR,
    "winding_ac": CONDUCTOR_LIGHT,
    "iron": IRON,
    "magnet": MAGNET,
    "mechanical": MOSS,
}
PART_COLOURS = {
    "stator_core": STATOR_IRON,
    "rotor_core": ROTOR_IRON,
    "slot_conductors": PAPER,
    "slot_air": PAPER,
    "magnet": MAGNET_LIGHT,
    "barrier": PAPER,
    "shaft": SHAFT,
    "sleeve": MOSS,
    "bar": CONDUCTOR,
    "rotor_slot_air": PAPER,
    "air_gap": PAPER,
}
EFFICIENCY_MAP = "cividis"
"""Perceptually even, and the same to readers with a colour-vision deficiency."""

PAGE_NAMES = {
    # colours that a page exchanges between light and dark: name of the page's variable
    PAPER: "paper",
    INK: "ink",
    SOFT_INK: "soft-ink",
    GRID: "grid",
    STATOR_IRON: "stator-iron",
    ROTOR_IRON: "rotor-iron",
    SHAFT: "shaft",
    CONDUCTOR: "conductor",
    CONDUCTOR_LIGHT: "conductor-light",
    MAGNET: "magnet",
    MAGNET_LIGHT: "magnet-light",
    IRON: "iron",
    MOSS: "moss",
    WARNING: "warning",
}
DARK = {
    PAPER: "#1d211f",
    INK: "#e6e7e1",
    SOFT_INK: "#a2aaa4",
    GRID: "#3b423e",
    STATOR_IRON: "#565d58",
    ROTOR_IRON: "#474e49",
    SHAFT: "#333935",
    CONDUCTOR: "#d98a63",
    CONDUCTOR_LIGHT: "#8f5a40",
    MAGNET: "#b78abd",
    MAGNET_LIGHT: "#6d4872",
    IRON: "#9aa49e",
    MOSS: "#94b375",
    WARNING: "#e0787b",
}


def with_page_colours(svg: str) -> str:
    """Return SVG whose palette colours follow the page's light or dark variables."""
    for colour, name in PAGE_NAMES.items():
        svg = svg.replace(colour, f"var(--{name})")
    return svg


def page_variables(colours: dict[str, str] | None = None) -> str:
    """Return the declarations of the page's colour variables; light without an argument."""
    values = colours or {colour: colour for colour in PAGE_NAMES}
    return " ".join(f"--{name}: {values[colour]};" for colour, name in PAGE_NAMES.items())
