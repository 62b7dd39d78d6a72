"""Steel, magnet and conductor grades with their sources, and the fits made from them."""
