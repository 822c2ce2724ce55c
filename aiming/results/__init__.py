"""The whole job: scenario in, answer out."""
