"""A repository made ready for reviews: workflows, settings, attributes, a local hook."""
