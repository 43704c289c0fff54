"""The rules against published figures."""
