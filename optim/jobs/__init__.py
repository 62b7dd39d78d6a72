"""Runs: their states, the order of asking and telling, the workers, and the loop that drives."""
