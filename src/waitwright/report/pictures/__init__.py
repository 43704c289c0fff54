"""Pictures of answers as inline SVG, each with its numbers in a table."""
