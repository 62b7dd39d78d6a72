"""Plots: for each a pure data step and a drawing step that gives a Matplotlib figure."""
