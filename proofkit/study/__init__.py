"""Studies: how far a measurement repeats, what an experiment showed, and the write-up of both."""
