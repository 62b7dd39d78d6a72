"""Operating points of a synchronous machine within current and voltage limits."""
