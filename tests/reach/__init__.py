"""The least risky way to a score."""
