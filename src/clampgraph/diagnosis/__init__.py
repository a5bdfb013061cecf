"""From findings to causes: derive the network, solve it exactly, explain, choose the next check."""
