"""Use cases: what a library user calls, and all that the command line and the page know."""
