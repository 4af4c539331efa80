"""The screen: what the logbook says, shown live in a browser, and requests left for the engine.

It reads the logbook and leaves requests in it, and it reads the layout's text from there too.
It never touches a pin and never judges a rule: it only says in plain words what the log holds.
"""
