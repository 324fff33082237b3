"""A drawing or tracing against the print that was made after it."""
