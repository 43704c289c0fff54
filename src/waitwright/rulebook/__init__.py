"""Rules and catalogue as frozen objects, loaded with every error collected, and linted.

Profiles of boards and machines are read here too, since they are checked against the rules.
"""
