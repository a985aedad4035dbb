"""The progress of a period: what landed, what became of each asset, what stands, what is better."""
