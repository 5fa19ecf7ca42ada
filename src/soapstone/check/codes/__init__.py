"""Named rule sets of codes that a user chooses, and what they say about a job's tubes and rails."""
