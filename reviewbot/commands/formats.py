"""The command `formats`."""

from __future__ import annotations

import typer


def formats() -> None:
    """List the formats, what each carries, and which can be read on this machine."""
    from reviewbot.readers.known import formats_here

    for form in formats_here():
        state = "can be read here" if form.is_here else f"not here: {form.how_to_get}"
        typer.echo(f"{form.name} ({', '.join(form.suffixes)}): {state}\n    {form.carries}")
