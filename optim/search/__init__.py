"""Search algorithms behind one ask-and-tell protocol."""
