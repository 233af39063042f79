"""The helper's decisions, as pure functions over values.

Nothing in this package reads a clock, a file or the network, and nothing in it knows a word that people read:
messages, time and records come in; changes and replies (an id and parameters) go out.
"""
