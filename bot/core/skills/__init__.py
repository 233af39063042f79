"""What the helper can do, one skill a module. A skill is a pure function from a scene to an outcome."""
