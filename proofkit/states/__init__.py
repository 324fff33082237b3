"""Two states of one plate, laid on each other and compared line by line."""
