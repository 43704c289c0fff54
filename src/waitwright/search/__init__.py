"""Exact search: tables, independent groups, best-first merge."""
