"""The commands of ``vatside``, one a module. Each takes parsed arguments and returns an exit status."""
