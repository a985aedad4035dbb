"""The invented scenario: a harbour storm lantern, version by version, in a git repository."""
