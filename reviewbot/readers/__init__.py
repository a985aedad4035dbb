"""Bytes in, a Model out; one module a format."""
