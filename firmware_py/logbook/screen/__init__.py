"""What the screen keeps for itself: jobs, ticks, settings, sign-ins, and who came to the door.

The engine neither reads nor writes any of it, so it works the same whatever stands here.
"""
