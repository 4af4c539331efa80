"""The health room: what the running processes say of themselves, where the doctor can read it."""
