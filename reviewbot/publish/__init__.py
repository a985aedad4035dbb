"""A Report to where people read it."""
