"""Which keys a spec has and what each may hold: one file for each part of the spec."""
