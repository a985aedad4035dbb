"""The review bot for 3D art kept in git."""

__version__ = "0.1.0"
