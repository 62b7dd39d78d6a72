"""Where runs and their evaluations are kept."""
