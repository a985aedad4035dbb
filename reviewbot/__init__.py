"""The review bot for 3D art kept in git."""
