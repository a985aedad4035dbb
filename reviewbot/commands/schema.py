"""The command `schema`."""

from __future__ import annotations

import typer


def schema() -> None:
    """Print the JSON Schema of report.json."""
    from reviewbot.report.json_report import schema_text

    typer.echo(schema_text())
