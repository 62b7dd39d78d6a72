"""Heat: conductances, the network of nodes, ratings."""
