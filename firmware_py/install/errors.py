"""What goes wrong in this room."""


class InstallError(Exception):
    """Something can't be installed, renewed or removed; the text says what would be right."""
