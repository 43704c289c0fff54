"""Why: reasons for proposals, in structure and in sentences."""
