"""Flying by hand: sticks from keys or a controller, the clock, the window."""
