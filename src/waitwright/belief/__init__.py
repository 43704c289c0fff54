"""What the parts really need: part factors, the cloud of draws, survival of a soak test."""
