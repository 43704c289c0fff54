"""A second opinion on bus timing: signals that change in the time of an event-driven simulation."""
