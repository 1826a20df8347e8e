"""A lead's word on a job: concession and recall."""
