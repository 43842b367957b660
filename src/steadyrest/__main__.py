"""`python -m steadyrest` is the same as `steadyrest`."""

from steadyrest.cli import main

main(prog_name="steadyrest")
