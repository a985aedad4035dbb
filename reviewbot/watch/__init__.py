"""Reviews every new commit of repositories, each exactly once; see `docs/watching.md`."""
