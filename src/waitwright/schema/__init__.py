"""The border: TOML files in, checked models out.

Everything that knows pydantic lives here.  Nothing in this package knows what a rule means; it knows
only what a file may look like, and says in one clear line what is wrong with it.
"""
