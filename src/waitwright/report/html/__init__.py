"""Answers as HTML; Jinja2 is imported here and nowhere else, and only when something is rendered."""
