"""Several sheets at once: by threads of this program, or by the machines of a cluster."""
