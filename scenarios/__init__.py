"""Manoeuvres flown and measured: everything between a flyable plane and what a person reads."""
