"""Who may do what: the host's PIN, a crew's link, and what keeps other people's pages away."""
