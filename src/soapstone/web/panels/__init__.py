"""Panels of a job's page: each shows a part of the job and takes what is typed into it."""
