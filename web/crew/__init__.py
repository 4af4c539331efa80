"""A crew's page: one job, its next step, why it is next, and what is being waited for."""
