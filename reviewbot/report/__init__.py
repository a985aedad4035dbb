"""One Report value, written as Markdown, an HTML page and JSON."""
