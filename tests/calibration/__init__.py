"""The owner's scores: noise, comparison of runs, and what they teach about the machine."""
