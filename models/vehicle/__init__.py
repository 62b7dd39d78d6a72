"""Drive cycles and what the vehicle asks of its motor."""
