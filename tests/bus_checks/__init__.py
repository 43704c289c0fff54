"""Bus rules of the packed rulebook against figures from outside."""
