"""A walk: one number of a setup changed step by step, each step flown with what a pilot cannot know, until a limit trips."""
