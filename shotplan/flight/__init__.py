"""Wish -> track.

`follow.fly` flies the set points of a style; `braking` asks how near the aircraft comes to a rider
who brakes hard.
"""
