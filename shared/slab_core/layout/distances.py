"""Distances that every way of placing boards goes by. Metres."""

ROW_AFTER_NEXT_M = 0.05
"""Joints of a row and the row after next closer than this read as one line: an H."""

NO_CUT_M = 0.0005
"""A board this much too long goes in uncut; the expansion gap takes it."""
