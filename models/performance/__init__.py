"""From flux maps to what a machine does: losses, envelopes, efficiency, cycle, heat, limits."""
