"""The plane in the air, drawn: its shape from the airframe description, the flight, the ground, the cameras.

`mesh`, `cameras` and `references` are arithmetic; `scene` draws them by OpenGL 3.3; `offscreen` makes pictures and movies.
"""
