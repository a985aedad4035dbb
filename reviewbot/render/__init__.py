"""Cameras, visibility buffers and the pictures drawn from them."""
