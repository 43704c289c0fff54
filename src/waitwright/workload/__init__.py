"""What a machine spends its time on, and what a change of settings gains."""
