"""Taking a machine in: what its owner reads off the parts, asked step by step, becomes a profile."""
