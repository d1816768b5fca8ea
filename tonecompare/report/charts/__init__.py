"""How is it drawn? Each chart takes results, returns a Figure, keeps no global state."""
