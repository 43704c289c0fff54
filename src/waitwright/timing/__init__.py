"""Rules applied to a machine: margins with their ledgers, and tables for the search."""
