"""The command line: one file per command; each parses, asks the api, and hands the answer to the report."""
