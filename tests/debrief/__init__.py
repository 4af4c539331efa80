"""The restore check, the debrief, and the session's turning as a whole appliance."""
